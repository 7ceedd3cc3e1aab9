import { localDay, percent } from '../words.ts';
import type { Run } from './runs.ts';

/** The drawing's size in its own units, the room left for the points at its edges, and that for the scale at its left. */
const WIDTH = 240;
const HEIGHT = 80;
const EDGE = 8;
const SCALE = 40;

/** Steps heard of all, one point a run, the oldest left. A run that missed a critical step is a cross. */
export function Chart({ title, runs }: { readonly title: string; readonly runs: readonly Run[] }) {
  const x = (i: number): number =>
    SCALE + EDGE + (i / Math.max(1, runs.length - 1)) * (WIDTH - SCALE - 2 * EDGE);
  const y = (share: number): number => HEIGHT - EDGE - share * (HEIGHT - 2 * EDGE);
  const points = runs.map((run, i) => ({ run, x: x(i), y: y(run.heard / run.of) }));
  const text = runs.map(
    ({ startedAt, heard, of, criticalMissed }) =>
      `${localDay(startedAt)} ${heard} of ${of}${criticalMissed > 0 ? `, ${criticalMissed} critical missed` : ''}`,
  );
  return (
    <svg
      className="runs-chart"
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      role="img"
      aria-label={`${title}, steps heard: ${text.join('; ')}.`}
    >
      {[0, 0.5, 1].map((share) => (
        <g key={share}>
          <line className="runs-grid" x1={SCALE} x2={WIDTH} y1={y(share)} y2={y(share)} />
          <text className="runs-scale" x={SCALE - 4} y={y(share)} textAnchor="end" dominantBaseline="middle">
            {percent(share)}
          </text>
        </g>
      ))}
      <polyline className="runs-line" points={points.map((point) => `${point.x},${point.y}`).join(' ')} />
      {points.map(({ run, x: at, y: up }) =>
        run.criticalMissed > 0 ? (
          <path
            key={run.startedAt}
            className="runs-cross"
            d={`M${at - 5} ${up - 5}l10 10M${at + 5} ${up - 5}l-10 10`}
          />
        ) : (
          <circle key={run.startedAt} className="runs-point" cx={at} cy={up} r="5" />
        ),
      )}
    </svg>
  );
}
