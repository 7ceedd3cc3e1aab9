import type { StepMark } from '../../app/marking/assessment.ts';
import type { State } from '../../app/marking/state.ts';
import { minutes } from '../../app/marking/testClock.ts';
import type { Talk } from '../../app/run/talk.ts';
import { Timeline } from '../parts/Timeline.tsx';

/** How many of the longest silences are listed. */
const SILENCES = 3;

/** The rehearsal as a line of time, and where it fell silent. */
export function TimeSpent({
  state,
  marks,
  titles,
  seconds,
  talk: { silences },
}: {
  readonly state: State;
  readonly marks: readonly StepMark[];
  readonly titles: ReadonlyMap<string, string>;
  readonly seconds: number;
  readonly talk: Talk;
}) {
  return (
    <>
      <Timeline state={state} marks={marks} seconds={seconds} silences={silences} />
      {silences.length > 0 && (
        <>
          <p>Longest silences:</p>
          <ul className="silences">
            {silences.slice(0, SILENCES).map(({ from, to, after }) => (
              <li key={from}>
                {Math.round(to - from)} s at {minutes(from)},{' '}
                {after === null ? 'before the first step' : `after “${titles.get(after) ?? after}”`}
              </li>
            ))}
          </ul>
        </>
      )}
    </>
  );
}
