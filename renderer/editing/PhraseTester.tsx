import { useState } from 'react';
import type { Settings } from '../../app/host/api.ts';
import type { Effect, Tried } from '../../app/authoring/tryPhrase.ts';
import { hearOnce } from './hearOnce.ts';
import { percent } from '../words.ts';
import { microphoneTrouble } from '../room/troubles.ts';

/** It is never certain. */
const MOST_SHOWN = 0.99;

/** A sentence tried against the skill as it is written just now: which steps it would credit, and which nearly. */
export function PhraseTester({
  phrase,
  tried,
  settings,
  canRecognise,
  onPhrase,
}: {
  readonly phrase: string;
  /** Null while there is no sentence, or the skill has faults. */
  readonly tried: Tried | null;
  readonly settings: Settings;
  /** Whether the speech model is there. */
  readonly canRecognise: boolean;
  readonly onPhrase: (phrase: string) => void;
}) {
  const [ear, setEar] = useState<'idle' | 'opening' | 'listening'>('idle');
  const [trouble, setTrouble] = useState('');

  const listen = async (): Promise<void> => {
    setEar('opening');
    setTrouble('');
    try {
      const heard = await hearOnce(settings, () => setEar('listening'));
      if (heard === '') setTrouble('Nothing was heard.');
      else onPhrase(heard);
    } catch (error) {
      const { title, text } = microphoneTrouble(error);
      setTrouble(`${title} ${text}`);
    }
    setEar('idle');
  };

  return (
    <section className="tester" aria-label="Try a sentence">
      <h2>Try a sentence</h2>
      <div className="tester-line">
        <label className="field">
          <span>What a trainee may say</span>
          <input type="text" value={phrase} onChange={({ target }) => onPhrase(target.value)} />
        </label>
        {canRecognise && (
          <button type="button" className="button" disabled={ear !== 'idle'} onClick={() => void listen()}>
            {{ listening: 'Listening…', opening: 'Opening…', idle: 'Say it instead' }[ear]}
          </button>
        )}
      </div>
      <div aria-live="polite">
        {trouble !== '' && <p>{trouble}</p>}
        {tried && <Result tried={tried} />}
        {!tried && phrase.trim() !== '' && <p className="hint">It is tried once the skill has no faults.</p>}
      </div>
    </section>
  );
}

function Result({ tried: { effects, near, meant, command } }: { readonly tried: Tried }) {
  return (
    <>
      {effects.length === 0 && <p>It credits no step.</p>}
      <ul className="effects">
        {effects.map((effect, i) => (
          <li key={i}>
            <strong>{told(effect)}</strong> {effect.text} <span className="hint">({effect.step})</span>
            <p className="hint">
              <q>{effect.words}</q>, {percent(effect.score)}
              {effect.cue !== null && (
                <>
                  {' '}
                  of <code>{effect.cue}</code>
                </>
              )}
              <Lacking words={effect.lacking} />
            </p>
          </li>
        ))}
      </ul>
      {command !== null && <p>It is the coach’s command “{command}”.</p>}
      {meant !== null && (
        <>
          <h3>What it seems to mean</h3>
          {meant.length === 0 && <p>None of the steps.</p>}
          <ul className="effects">
            {meant.map(({ step, text, sure }) => (
              <li key={step}>
                {text} <span className="hint">({step})</span>{' '}
                <strong>{percent(Math.min(sure, MOST_SHOWN))} sure</strong>
              </li>
            ))}
          </ul>
        </>
      )}
      {near.length > 0 && (
        <>
          <h3>Nearly said by its examples</h3>
          <ul className="effects">
            {near.map(({ step, text, cue, score, lacking }) => (
              <li key={step}>
                {text} <span className="hint">({step})</span>
                <p className="hint">
                  {percent(score)} of <code>{cue}</code>
                  <Lacking words={lacking} />
                </p>
              </li>
            ))}
          </ul>
        </>
      )}
    </>
  );
}

const Lacking = ({ words }: { readonly words: readonly string[] }) =>
  words.length > 0 && (
    <>
      ; lacking: <code>{words.join(' ')}</code>
    </>
  );

/** What an effect does, in words. */
function told({ does, how }: Effect): string {
  switch (does) {
    case 'credited':
      return 'Credited:';
    case 'doubted':
      return `Unsure (${how}):`;
    case 'noted':
      return `Not credited, ${how}:`;
    case 'clock':
      return `${CLOCK[how] ?? how}:`;
    case 'movement':
      return how === 'named' || how === 'announced' ? 'Movement named:' : 'Movement counted:';
    case 'reading':
      return `Number ${how}:`;
  }
}

const CLOCK: Readonly<Record<string, string>> = {
  start: 'Its time starts',
  on: 'Its time goes on',
  halt: 'Its time halts',
  stop: 'Its time ends',
  doubt: 'Its time is in doubt',
};
