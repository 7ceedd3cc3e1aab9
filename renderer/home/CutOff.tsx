import { useState } from 'react';
import { Link } from 'wouter';
import type { RehearsalSummary } from '../../app/host/api.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { useRehearsing } from '../rehearsing.tsx';
import { localDate } from '../words.ts';

/** Rehearsals that are not offered again while this window is open: put off, or looked at. */
const putOff = new Set<string>();

/** The latest rehearsal that was cut off, to go on with. */
export function CutOff() {
  const { rehearsals, canHear } = useKnown();
  const { goOn } = useRehearsing();
  const [, redraw] = useState(0);
  const cutOff = rehearsals.filter(({ id, state }) => state === 'interrupted' && !putOff.has(id));
  const [latest, ...others] = cutOff;
  if (!latest) return null;
  const { id, title, startedAt, seconds } = latest;
  const forget = (some: readonly RehearsalSummary[]): void => {
    for (const each of some) putOff.add(each.id);
    redraw((n) => n + 1);
  };
  return (
    <section className="notice" aria-label={`Go on where you were: ${title}`}>
      <h2>Go on where you were</h2>
      <p>
        <strong>A rehearsal was cut off:</strong> {title}, {localDate(startedAt)}, {minutes(seconds)} min.
        What was heard is kept.
      </p>
      <div className="actions">
        <button type="button" className="button main" disabled={!canHear} onClick={() => goOn(id)}>
          Go on with it
        </button>
        <Link href={ADDRESS.rehearsal(id)} className="button" onClick={() => forget([latest])}>
          See what was heard
        </Link>
        <button type="button" className="button quiet" onClick={() => forget(cutOff)}>
          Not now
        </button>
      </div>
      {others.length > 0 && (
        <p className="hint">
          {others.length} earlier {others.length === 1 ? 'one is' : 'ones are'} among the past rehearsals
          under <Link href={ADDRESS.progress}>Progress</Link>.
        </p>
      )}
    </section>
  );
}
