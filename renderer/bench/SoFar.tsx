import { readingStatistics } from '../../app/progress/readings.ts';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { readingsSay } from '../readings/readingsSay.ts';

/** What the readings taken so far have in common: whether they come out too high, are rounded, are stopped early. */
export function SoFar({
  readings,
  isKept,
}: {
  readonly readings: readonly ReadingTaken[];
  /** Whether they stay after the page is left. */
  readonly isKept: boolean;
}) {
  return (
    <section className="bench-part">
      <h2>Your readings so far</h2>
      <p className="hint">
        {isKept
          ? 'They are kept with the person chosen; Progress shows them over time.'
          : 'Nobody is chosen: they are not kept when you leave.'}
      </p>
      {readings.length === 0 && <p>None yet.</p>}
      <ul className="bench-remarks">
        {readingStatistics(readings).map((statistics) => (
          <li key={`${statistics.name} ${statistics.unit}`} className="bench-note">
            <strong>{statistics.name}.</strong> {readingsSay(statistics).join(' ')}
          </li>
        ))}
      </ul>
    </section>
  );
}
