import { useState } from 'react';
import { Link } from 'wouter';
import { minutes } from '../../app/marking/testClock.ts';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { useRehearsing } from '../rehearsing.tsx';
import { localDate } from '../words.ts';

/** Rehearsals that are not offered again while this window is open: put off, or looked at. */
const putOff = new Set<string>();

/** The rehearsals that were cut off, to go on with. */
export function CutOff() {
  const { rehearsals, canHear } = useKnown();
  const { goOn } = useRehearsing();
  const [, redraw] = useState(0);
  const forget = (id: string): void => {
    putOff.add(id);
    redraw((n) => n + 1);
  };
  return rehearsals
    .filter(({ id, state }) => state === 'interrupted' && !putOff.has(id))
    .map(({ id, title, startedAt, seconds }) => (
      <section key={id} className="notice" aria-label={`Go on where you were: ${title}`}>
        <h2>Go on where you were</h2>
        <p>
          <strong>A rehearsal was cut off:</strong> {title}, {localDate(startedAt)}, {minutes(seconds)} min.
          What was heard is kept.
        </p>
        <div className="actions">
          <button type="button" className="button main" disabled={!canHear} onClick={() => goOn(id)}>
            Go on with it
          </button>
          <Link href={ADDRESS.rehearsal(id)} className="button" onClick={() => forget(id)}>
            See what was heard
          </Link>
          <button type="button" className="button quiet" onClick={() => forget(id)}>
            Not now
          </button>
        </div>
      </section>
    ));
}
