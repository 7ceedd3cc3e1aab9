import { useState } from 'react';
import type { Attempt } from '../../app/progress/attempt.ts';
import {
  hardestSteps,
  heatMap,
  notPractised,
  readiness,
  type HeatMap,
} from '../../app/progress/classView.ts';
import { Shape } from '../parts/Shape.tsx';
import { StepText } from '../parts/StepText.tsx';
import '../styles/screens/progress.css';

const WHY = {
  'not tried': 'not tried yet',
  'not steady': 'not passed twice in a row yet',
  'long ago': 'passed, but more than two weeks ago',
} as const;

/** How many of the steps missed most are listed. */
const SHOWN = 5;

/** Trainees of whom the steps are shown at first, and more each time that is asked for: some hundred columns are slow to draw. */
const COLUMNS = 40;

/** A class with one skill: what it misses most, who has not tried, and step by step. Nobody is ranked. */
export function ClassProgress({
  skill,
  trainees,
  attempts,
  now,
}: {
  readonly skill: string;
  readonly trainees: readonly string[];
  readonly attempts: readonly Attempt[];
  /** In UTC as ISO 8601 has it. */
  readonly now: string;
}) {
  const map = heatMap(trainees, attempts, skill);
  const hardest = hardestSteps(attempts, skill) ?? [];
  const absent = notPractised(trainees, attempts, skill);
  return (
    <section className="progress" aria-label="The class">
      <h2>The class</h2>
      <h3>Missed most</h3>
      {hardest.length === 0 ? (
        <p>No step was missed in anybody’s last attempt.</p>
      ) : (
        <ul className="weakest">
          {hardest.slice(0, SHOWN).map(({ step, text, critical, missed, of }) => (
            <li key={step}>
              <StepText text={text} critical={critical} /> (missed by {missed} of {of})
            </li>
          ))}
        </ul>
      )}
      <h3>Not tried yet</h3>
      <p>{absent.length === 0 ? 'Everybody has tried it.' : absent.join(', ')}</p>
      <h3>Everybody’s last attempt</h3>
      <Heat map={map} readyOf={(name) => readyText(attempts, name, skill, now)} />
      <p className="hint">
        Ready: passed twice in a row, the last time within two weeks. It says what practice shows, not what a
        test will.
      </p>
    </section>
  );
}

function readyText(attempts: readonly Attempt[], name: string, skill: string, now: string): string {
  const own = attempts.filter(({ trainee }) => trainee === name);
  const standing = readiness(own, skill, now);
  return standing.ready ? 'ready' : WHY[standing.why];
}

/** The heat map of the first trainees by name, and of more when that is asked for. */
function Heat({ map, readyOf }: { readonly map: HeatMap; readonly readyOf: (name: string) => string }) {
  const [columns, setColumns] = useState(COLUMNS);
  const rest = map.trainees.length - columns;
  return (
    <>
      <HeatTable map={{ ...map, trainees: map.trainees.slice(0, columns) }} readyOf={readyOf} />
      {rest > 0 && (
        <button type="button" className="button" onClick={() => setColumns(columns + COLUMNS)}>
          Show {Math.min(rest, COLUMNS)} more of {map.trainees.length} trainees
        </button>
      )}
    </>
  );
}

/** The heat map is a table: its picture and its words are the same thing. */
function HeatTable({ map, readyOf }: { readonly map: HeatMap; readonly readyOf: (name: string) => string }) {
  return (
    <div className="heat" tabIndex={0} role="region" aria-label="Steps and trainees">
      <table>
        <thead>
          <tr>
            <th scope="col">Step</th>
            {map.trainees.map(({ name }) => (
              <th key={name} scope="col">
                {name}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {map.steps.map(({ step, text, critical }, i) => (
            <tr key={step}>
              <th scope="row">
                <StepText text={text} critical={critical} />
              </th>
              {map.trainees.map(({ name, cells }) => (
                <Cell key={name} credited={cells[i] ?? null} />
              ))}
            </tr>
          ))}
        </tbody>
        <tfoot>
          <tr>
            <th scope="row">Ready</th>
            {map.trainees.map(({ name }) => (
              <td key={name}>{readyOf(name)}</td>
            ))}
          </tr>
        </tfoot>
      </table>
    </div>
  );
}

function Cell({ credited }: { readonly credited: boolean | null }) {
  if (credited === null)
    return (
      <td className="heat-none">
        –<span className="visually-hidden">not judged</span>
      </td>
    );
  return (
    <td className={credited ? 'heat-yes' : 'heat-no'}>
      <Shape mark={credited ? 'heard' : 'not heard'} title={credited ? 'credited' : 'missed'} />
    </td>
  );
}
