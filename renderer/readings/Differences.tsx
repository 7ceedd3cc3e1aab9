import type { Agreement } from '../../app/bench/readings/statistics.ts';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { tenths } from './readingsSay.ts';

/** Width and height of the drawing in its own units; text in it keeps its proportions. */
const WIDTH = 640;
const HEIGHT = 240;
const LEFT = 60;
const RIGHT = 120;
const BOTTOM = 34;
const TOP = 14;

/**
 * Readings against the truth as Bland and Altman draw them: across, the mean of both; up, how much too high. Lines stand at no difference,
 * at the bias and at the limits of agreement. What it shows is told in words by the Chart around it.
 */
export function Differences({
  readings,
  agreement: { bias, lower, upper },
}: {
  readonly readings: readonly ReadingTaken[];
  readonly agreement: Agreement;
}) {
  const points = readings.map(({ recorded, truth }) => ({
    mean: (recorded + truth) / 2,
    difference: recorded - truth,
  }));
  const means = points.map(({ mean }) => mean);
  const [least, most] = [Math.min(...means), Math.max(...means)];
  const differences = [...points.map(({ difference }) => difference), lower.value, upper.value];
  const [lowest, highest] = [Math.min(0, ...differences), Math.max(0, ...differences)];
  const room = 0.1 * Math.max(1, highest - lowest);
  const [floor, ceiling] = [lowest - room, highest + room];
  const x = (mean: number): number =>
    LEFT + 14 + ((mean - least) / Math.max(1e-9, most - least)) * (WIDTH - LEFT - RIGHT - 28);
  const y = (difference: number): number =>
    TOP + ((ceiling - difference) / (ceiling - floor)) * (HEIGHT - TOP - BOTTOM);
  const lines = [
    { name: 'upper limit', value: upper.value, className: 'time-goal' },
    { name: 'average', value: bias.value, className: 'differences-bias' },
    { name: 'lower limit', value: lower.value, className: 'time-goal' },
  ];
  return (
    <svg className="time-line" viewBox={`0 0 ${WIDTH} ${HEIGHT}`} aria-hidden="true">
      <line className="time-grid" x1={LEFT} x2={WIDTH - RIGHT} y1={y(0)} y2={y(0)} />
      <text className="time-text time-scale" x={LEFT - 8} y={y(0) + 4}>
        exact
      </text>
      {lines.map(({ name, value, className }) => (
        <g key={name}>
          <line className={className} x1={LEFT} x2={WIDTH - RIGHT} y1={y(value)} y2={y(value)} />
          <text className="time-text differences-name" x={WIDTH - RIGHT + 8} y={y(value) + 4}>
            {name} {tenths(value)}
          </text>
        </g>
      ))}
      {points.map(({ mean, difference }, i) => (
        <circle key={i} className="differences-point" cx={x(mean)} cy={y(difference)} r="6" />
      ))}
      {[...new Set([least, most])].map((mean) => (
        <text key={mean} className="time-text time-day" x={x(mean)} y={HEIGHT - 8}>
          {tenths(mean)}
        </text>
      ))}
    </svg>
  );
}
