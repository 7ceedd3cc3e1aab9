import { useState } from 'react';
import { knownVariants, stepsOf } from '../../app/skills/checklist.ts';
import type { Skill } from '../../app/skills/skill.ts';
import type { Library, ModelStanding, RehearsalSummary, Settings } from '../../app/host/api.ts';
import { MicrophoneStanding } from '../loudness/MicrophoneStanding.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { ModelGetter } from '../parts/ModelGetter.tsx';
import { mannerPolicy } from '../../app/skills/manner.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { localDate } from '../words.ts';

const STYLES = [
  ['coach', 'Coach', 'Shows what is still open, and nudges you when you fall silent.'],
  ['silent', 'Silent, as in a test', 'Shows what was heard, and helps with nothing.'],
] as const;

/** Choosing what to rehearse and how, before hands get wet. */
export function Start({
  library,
  settings,
  model,
  listening,
  interrupted,
  onSettings,
  onStart,
  onModel,
  onOpen,
  onGoOn,
  onForget,
  onGo,
}: {
  readonly library: Library;
  readonly settings: Settings;
  readonly model: ModelStanding | null;
  /** What will listen, as records name it. */
  readonly listening: string;
  /** Rehearsals that were cut off and not looked at since. */
  readonly interrupted: readonly RehearsalSummary[];
  readonly onSettings: (settings: Settings) => void;
  readonly onStart: (skill: Skill, variants: Readonly<Record<string, string>>) => void;
  /** The model was got: ask again how it stands. */
  readonly onModel: () => void;
  readonly onOpen: (id: string) => void;
  readonly onGoOn: (id: string) => void;
  readonly onForget: (id: string) => void;
  readonly onGo: (screen: 'sound check' | 'past' | 'mock test' | 'skills' | 'listening') => void;
}) {
  const [chosen, setChosen] = useState(
    library.skills.find(({ id }) => id === settings.skill) ??
      // What every test begins with is what a newcomer begins with.
      library.skills.find(({ id }) => library.forms.some(({ first }) => first === id)) ??
      library.skills[0],
  );
  const [variants, setVariants] = useState(() => (chosen ? rememberedVariants(chosen, settings) : {}));
  const installed = model?.installed === 'installed';

  const choose = (skill: Skill): void => {
    setChosen(skill);
    setVariants(rememberedVariants(skill, settings));
  };
  const start = (event: React.FormEvent): void => {
    event.preventDefault();
    if (chosen && installed) onStart(chosen, variants);
  };

  return (
    <main className="page">
      <Heading>What do you rehearse?</Heading>

      {interrupted.map(({ id, title, startedAt, seconds }) => (
        <section key={id} className="notice" aria-label="A rehearsal was cut off">
          <p>
            <strong>A rehearsal was cut off:</strong> {title}, {localDate(startedAt)}, {minutes(seconds)} min.
            What was heard is kept.
          </p>
          <div className="actions">
            <button type="button" className="button" disabled={!installed} onClick={() => onGoOn(id)}>
              Go on with it
            </button>
            <button type="button" className="button" onClick={() => onOpen(id)}>
              See what was heard
            </button>
            <button type="button" className="button quiet" onClick={() => onForget(id)}>
              Not now
            </button>
          </div>
        </section>
      ))}

      {model && !installed && <ModelGetter model={model} onDone={onModel} />}

      <form onSubmit={start}>
        <fieldset className="cards">
          <legend>Skill</legend>
          {library.skills.map((skill) => {
            const steps = stepsOf(skill, skill === chosen ? variants : rememberedVariants(skill, settings));
            return (
              <label key={skill.id} className="card">
                <input
                  type="radio"
                  name="skill"
                  checked={chosen?.id === skill.id}
                  onChange={() => choose(skill)}
                />
                <span className="card-title">{skill.title}</span>
                {skill === chosen && <span className="card-text">{skill.card}</span>}
                <span className="card-facts">
                  {steps.length} steps, {steps.filter((step) => step.critical).length} critical
                </span>
              </label>
            );
          })}
        </fieldset>
        {chosen && chosen.equipment.length + chosen.cautions.length > 0 && (
          <section aria-label="Before you start">
            {chosen.equipment.length > 0 && (
              <p>
                <strong>Lay ready:</strong> {chosen.equipment.join(', ')}.
              </p>
            )}
            {chosen.cautions.map((caution) => (
              <p key={caution} className="hint">
                {caution}
              </p>
            ))}
          </section>
        )}
        {library.faults.map(({ file, line, message }) => (
          <p key={`${file}:${line}`} className="hint">
            Left out: {file}, line {line}: {message}
          </p>
        ))}

        {chosen &&
          Object.entries(chosen.variants).map(([name, { question, options }]) => (
            <fieldset key={name} className="choices">
              <legend>{question}</legend>
              {Object.entries(options).map(([value, text]) => (
                <label key={value} className="choice">
                  <input
                    type="radio"
                    name={`variant-${name}`}
                    checked={variants[name] === value}
                    onChange={() => setVariants({ ...variants, [name]: value })}
                  />
                  {text}
                </label>
              ))}
            </fieldset>
          ))}

        <fieldset className="choices">
          <legend>Coaching</legend>
          {STYLES.map(([style, title, text]) => (
            <label key={style} className="choice">
              <input
                type="radio"
                name="style"
                checked={settings.style === style}
                onChange={() => onSettings({ ...settings, style })}
              />
              <span>
                {title}
                <span className="hint">{text}</span>
              </span>
            </label>
          ))}
        </fieldset>

        <fieldset className="choices">
          <legend>How it begins and counts</legend>
          <label className="choice">
            <input
              type="checkbox"
              checked={settings.continued}
              onChange={({ target }) => onSettings({ ...settings, continued: target.checked })}
            />
            <span>
              Hands just washed, the resident knows me
              <span className="hint">
                As in a later skill of a test: what carries over need not be said again.
              </span>
            </span>
          </label>
          <p className="hint">{mannerPolicy(library.rules)}</p>
        </fieldset>

        <fieldset className="choices">
          <legend>The coach’s voice</legend>
          <label className="choice">
            <input
              type="checkbox"
              checked={settings.voice}
              onChange={({ target }) => onSettings({ ...settings, voice: target.checked })}
            />
            <span>
              Speaks aloud
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
              onChange={({ target }) => onSettings({ ...settings, volume: Number(target.value) })}
            />
          </label>
        </fieldset>

        <MicrophoneStanding settings={settings} listening={listening} />

        <div className="actions">
          <button type="submit" className="button main" disabled={!chosen || !installed}>
            Start the rehearsal
          </button>
          <button type="button" className="button" onClick={() => onGo('mock test')}>
            Mock test
          </button>
          <button type="button" className="button" onClick={() => onGo('sound check')}>
            Sound check
          </button>
          <button type="button" className="button" onClick={() => onGo('listening')}>
            Listening
          </button>
          <button type="button" className="button" onClick={() => onGo('past')}>
            Past rehearsals
          </button>
          <button type="button" className="button" onClick={() => onGo('skills')}>
            Skills
          </button>
        </div>
      </form>
      <Caution />
    </main>
  );
}

/** The variants chosen last time for this skill, and the defaults of what was not. */
function rememberedVariants(skill: Skill, settings: Settings): Record<string, string> {
  return knownVariants(skill, settings.skill === skill.id ? settings.variants : {});
}
