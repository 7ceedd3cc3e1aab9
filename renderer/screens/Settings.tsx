import { Link } from 'wouter';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { MicrophoneStanding } from '../loudness/MicrophoneStanding.tsx';
import { TITLES } from '../../app/settings/choice.ts';
import { chosenOf, modelsOf } from '../models.ts';
import { Heading } from '../parts/Heading.tsx';
import { KeptFor } from '../people/KeptFor.tsx';
import { SchoolArchive } from '../sending/SchoolArchive.tsx';

const THEMES = [
  ['system', 'As this computer'],
  ['light', 'Light'],
  ['dark', 'Dark'],
] as const;

/** What is set once and stays: how the trainee is heard, how the coach sounds, how the screens look, where things are kept. */
export function Settings() {
  const { settings, models, listening, people } = useKnown();
  const chosen = chosenOf(settings, models);
  const names = modelsOf(settings, models, chosen).map(({ id }) => id);
  return (
    <main className="page">
      <Heading>Settings</Heading>
      <section className="panel" aria-labelledby="hearing">
        <h2 id="hearing">Hearing you</h2>
        <MicrophoneStanding settings={settings} listening={listening} />
        <p>
          <strong>Listening now:</strong> {TITLES[chosen][0]} ({names.join(', ')}).
        </p>
        <div className="actions">
          <Link href={ADDRESS.soundCheck} className="button">
            Sound check
          </Link>
          <Link href={ADDRESS.listening} className="button">
            How it hears you
          </Link>
        </div>
        <p className="hint">
          The sound check also chooses the microphone, and whether the browser may reduce noise and echo.
        </p>
      </section>
      <CoachVoice />
      <Theme />
      <KeptFor />
      <SchoolArchive />
      <section className="panel" aria-labelledby="data">
        <h2 id="data">Your data</h2>
        <p>
          Rehearsals, their sound, your settings and your school’s skills lie in one folder on this computer.{' '}
          {people.school === null
            ? 'Nothing is sent anywhere.'
            : 'Rehearsals of trainees who agreed are also sent to the school’s archive.'}
        </p>
        <dl className="places">
          <dt>Windows</dt>
          <dd>
            <code>%LOCALAPPDATA%\Sinkside</code>
          </dd>
          <dt>macOS</dt>
          <dd>
            <code>~/Library/Application Support/Sinkside</code>
          </dd>
          <dt>Linux</dt>
          <dd>
            <code>~/.local/share/sinkside</code>
          </dd>
        </dl>
        <p className="hint">
          Another folder is used where the program was started with one in <code>SINKSIDE_DATA</code> or{' '}
          <code>XDG_DATA_HOME</code>. Each rehearsal is a folder of its own under <code>rehearsals</code>:
          delete it there, and it is gone.
        </p>
      </section>
    </main>
  );
}

function CoachVoice() {
  const { settings, saveSettings } = useKnown();
  return (
    <section className="panel" aria-labelledby="voice">
      <h2 id="voice">Voice and signals</h2>
      <label className="choice">
        <input
          type="checkbox"
          checked={settings.voice}
          onChange={({ target }) => saveSettings({ ...settings, voice: target.checked })}
        />
        <span>
          The coach speaks aloud
          <span className="hint">Everything it says is also written.</span>
        </span>
      </label>
      <label className="choice">
        <span>Loudness of voice and signals</span>
        <input
          type="range"
          min="0"
          max="1"
          step="0.1"
          value={settings.volume}
          onChange={({ target }) => saveSettings({ ...settings, volume: Number(target.value) })}
        />
      </label>
    </section>
  );
}

function Theme() {
  const { settings, saveSettings } = useKnown();
  return (
    <section className="panel" aria-label="Light or dark">
      <fieldset className="choices">
        <legend>Light or dark</legend>
        {THEMES.map(([theme, title]) => (
          <label key={theme} className="choice">
            <input
              type="radio"
              name="theme"
              checked={settings.theme === theme}
              onChange={() => saveSettings({ ...settings, theme })}
            />
            {title}
          </label>
        ))}
      </fieldset>
    </section>
  );
}
