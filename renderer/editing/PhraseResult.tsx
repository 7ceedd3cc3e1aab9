import type { Effect, Tried } from '../../app/authoring/tryPhrase.ts';
import { percent } from '../words.ts';

/** It is never certain. */
const MOST_SHOWN = 0.99;

/** What a sentence does, by the rules and by what it seems to mean. */
export function PhraseResult({ tried: { effects, near, meant, command } }: { readonly tried: Tried }) {
  return (
    <>
      {effects.length === 0 && <p>It credits no step.</p>}
      <ul className="effects">
        {effects.map((effect, i) => (
          <EffectLine key={i} effect={effect} />
        ))}
      </ul>
      {command !== null && <p>It is the coach’s command “{command}”.</p>}
      {meant !== null && <Meant meant={meant} />}
      {near.length > 0 && <Near near={near} />}
    </>
  );
}

function EffectLine({ effect }: { readonly effect: Effect }) {
  return (
    <li>
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
  );
}

/** How sure the learned judge is of each step. */
function Meant({ meant }: { readonly meant: NonNullable<Tried['meant']> }) {
  return (
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
  );
}

/** The cues that it comes near to. */
function Near({ near }: { readonly near: Tried['near'] }) {
  return (
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
