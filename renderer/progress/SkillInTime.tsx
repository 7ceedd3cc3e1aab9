import { inTime, type Attempt } from '../../app/progress/attempt.ts';
import { progressOf } from '../../app/progress/trainee.ts';
import { StepText } from '../parts/StepText.tsx';
import { percent } from '../words.ts';
import '../styles/screens/progress.css';
import { Chart } from './Chart.tsx';
import { Line } from './Line.tsx';
import { Table } from './Table.tsx';
import { dayOf, times } from './progressWords.ts';

/** How many of the steps missed most are listed. */
const SHOWN = 5;

/** How one trainee gets on with one skill: steps, seconds, numbers, the habit of talking, and what is missed most. */
export function SkillInTime({
  attempts,
}: {
  /** Of this trainee at this skill, one at least, in any order. */
  readonly attempts: readonly Attempt[];
}) {
  const [progress] = progressOf(attempts);
  if (!progress) return null;
  const { points, streak, weakest } = progress;
  const own = inTime(attempts, progress.skill);
  return (
    <section className="progress" aria-label="In time">
      <Chart
        title="Steps credited."
        says={`${times(points.length, 'attempt')}; ${streak === 0 ? 'the last one was not passed' : `passed ${times(streak, 'time')} in a row up to the last`}. A full disc is a pass, a ring with a cross is none. Where a person has judged, that counts.`}
        columns={['Attempt', 'Steps credited', 'Critical steps missed', 'Result']}
        rows={points.map(({ startedAt, credited, of, criticalMissed, passed }) => [
          dayOf(startedAt),
          `${credited} of ${of}`,
          criticalMissed.join('; ') || 'none',
          passed ? 'passed' : 'not passed',
        ])}
      >
        <Line
          points={points.map(({ id, startedAt, credited, passed }) => ({
            key: id,
            label: dayOf(startedAt),
            value: credited,
            good: passed,
          }))}
          most={Math.max(1, ...points.map(({ of }) => of))}
          goal={null}
        />
      </Chart>
      <Timed attempts={own} />
      <Readings attempts={own} />
      <Talk attempts={own} />
      {weakest.length > 0 && (
        <>
          <h2>Missed most in the last attempts</h2>
          <ul className="weakest">
            {weakest.slice(0, SHOWN).map(({ step, text, critical, missed, of }) => (
              <li key={step}>
                <StepText text={text} critical={critical} /> ({missed} of {of} times)
              </li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}

/** What is timed, as the scrub: the seconds heard against those needed. */
function Timed({ attempts }: { readonly attempts: readonly Attempt[] }) {
  const last = attempts.at(-1);
  return last?.clocks.map(({ id, required }) => {
    const text = last.steps.find(({ step }) => step === id)?.text ?? id;
    const runs = attempts.flatMap((attempt) => {
      const clock = attempt.clocks.find((each) => each.id === id);
      return clock && clock.seconds > 0 ? [{ ...clock, attempt }] : [];
    });
    if (runs.length === 0) return null;
    return (
      <Chart
        key={id}
        title={`Seconds: ${text}`}
        says={`At least ${required} seconds are needed; the dashed line stands there.`}
        columns={['Attempt', 'Seconds heard', 'Enough']}
        rows={runs.map(({ attempt, seconds, met }) => [
          dayOf(attempt.startedAt),
          seconds.toFixed(1),
          met ? 'yes' : 'no',
        ])}
      >
        <Line
          points={runs.map(({ attempt, seconds, met }) => ({
            key: attempt.id,
            label: dayOf(attempt.startedAt),
            value: seconds,
            good: met,
          }))}
          most={Math.ceil(Math.max(required * 1.25, ...runs.map(({ seconds }) => seconds)))}
          goal={required}
        />
      </Chart>
    );
  });
}

/** Numbers that were said beside those a person measured. */
function Readings({ attempts }: { readonly attempts: readonly Attempt[] }) {
  const read = attempts.flatMap(({ startedAt, readings }) =>
    readings.flatMap(({ said, truth }) => (truth === null ? [] : [{ startedAt, said, truth }])),
  );
  if (read.length === 0) return null;
  return (
    <Table
      caption="Numbers said, beside what was measured"
      columns={['Attempt', 'Said', 'Measured', 'Apart']}
      rows={read.map(({ startedAt, said, truth }) => [dayOf(startedAt), said, truth, Math.abs(said - truth)])}
    />
  );
}

/** The habit of talking as one goes. */
function Talk({ attempts }: { readonly attempts: readonly Attempt[] }) {
  const last = attempts.at(-1);
  if (!last || last.narrated === null) return null;
  return (
    <p>
      The last time, {percent(last.narrated)} of the time with something to say was narrated
      {last.longestSilence > 0 && `; the longest silence was ${Math.round(last.longestSilence)} s`}.
    </p>
  );
}
