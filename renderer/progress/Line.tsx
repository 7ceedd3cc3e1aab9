/** Width and height of the drawing in its own units; text in it keeps its proportions. */
const WIDTH = 640;
const HEIGHT = 220;
const LEFT = 44;
const BOTTOM = 30;
const TOP = 14;

/** One value in time. */
export interface LinePoint {
  readonly key: string;
  /** What stands under it: a day. */
  readonly label: string;
  readonly value: number;
  /** Drawn as a full disc, as an open ring otherwise. */
  readonly good: boolean;
}

/**
 * Values one after the other, evenly spaced, from 0 up; a full disc for a good one, a ring with a cross for another. A dashed line stands
 * where the values should reach. What it shows is told in words by the {@link Chart} around it.
 */
export function Line({
  points,
  most,
  goal,
}: {
  readonly points: readonly LinePoint[];
  /** The value at the top of the drawing. */
  readonly most: number;
  readonly goal: number | null;
}) {
  const x = (i: number): number =>
    points.length < 2 ? (LEFT + WIDTH) / 2 : LEFT + 14 + (i / (points.length - 1)) * (WIDTH - LEFT - 34);
  const y = (value: number): number =>
    HEIGHT - BOTTOM - (Math.min(value, most) / Math.max(1, most)) * (HEIGHT - BOTTOM - TOP);
  const every = Math.ceil(points.length / 6);
  return (
    <svg className="time-line" viewBox={`0 0 ${WIDTH} ${HEIGHT}`} aria-hidden="true">
      {[0, ...(goal === null ? [] : [goal]), most].map((value) => (
        <g key={value}>
          <line className="time-grid" x1={LEFT} x2={WIDTH} y1={y(value)} y2={y(value)} />
          <text className="time-text time-scale" x={LEFT - 8} y={y(value) + 4}>
            {value}
          </text>
        </g>
      ))}
      {goal !== null && <line className="time-goal" x1={LEFT} x2={WIDTH} y1={y(goal)} y2={y(goal)} />}
      <polyline
        className="time-path"
        points={points.map(({ value }, i) => `${x(i)},${y(value)}`).join(' ')}
      />
      {points.map(({ key, label, value, good }, i) => (
        <g key={key}>
          <circle className={good ? 'time-good' : 'time-other'} cx={x(i)} cy={y(value)} r="8" />
          {!good && <path className="time-cross" d={`M${x(i) - 3.5} ${y(value) - 3.5}l7 7m0-7l-7 7`} />}
          {(points.length - 1 - i) % every === 0 && (
            <text className="time-text time-day" x={x(i)} y={HEIGHT - 8}>
              {label}
            </text>
          )}
        </g>
      ))}
    </svg>
  );
}
