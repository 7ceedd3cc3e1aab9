import { GUIDANCE, HIGHEST } from '../../../app/bench/pressure.ts';

/** Degrees from straight up at which the needle stands: one for each mmHg, from the lower left round to the lower right. */
const turn = (pressure: number): string => `rotate(${pressure - HIGHEST / 2} 150 150)`;

const marks = Array.from({ length: HIGHEST / GUIDANCE.mark + 1 }, (_, i) => i * GUIDANCE.mark);
const lengthOf = (pressure: number): number => {
  if (pressure % 20 === 0) return 16;
  return pressure % 10 === 0 ? 13 : 8;
};
const kindOf = (pressure: number): string =>
  pressure % 10 === 0 ? 'bench-mark bench-mark-long' : 'bench-mark';

/** All that does not move; made once, so that only the needle is drawn again from picture to picture. */
const DIAL = (
  <g>
    <circle className="bench-rim" cx="150" cy="150" r="146" />
    <circle className="bench-face" cx="150" cy="150" r="138" />
    {marks.map((mark) => (
      <line
        key={mark}
        className={kindOf(mark)}
        x1="150"
        x2="150"
        y1="20"
        y2={20 + lengthOf(mark)}
        transform={turn(mark)}
      />
    ))}
    {marks
      .filter((mark) => mark % 20 === 0)
      .map((mark) => {
        const angle = ((mark - HIGHEST / 2) * Math.PI) / 180;
        return (
          <text
            key={mark}
            className="bench-figure bench-small"
            x={150 + 97 * Math.sin(angle)}
            y={150 - 97 * Math.cos(angle)}
            textAnchor="middle"
            dominantBaseline="central"
          >
            {mark}
          </text>
        );
      })}
    <text className="bench-figure bench-unit" x="150" y="216" textAnchor="middle">
      mmHg
    </text>
  </g>
);

/**
 * An aneroid gauge with a mark every 2 mmHg.
 *
 * @param pressure mmHg
 * @param still with less movement: the needle steps from mark to mark
 */
export function Gauge({ pressure, still }: { readonly pressure: number; readonly still: boolean }) {
  const shown = still ? Math.round(pressure / GUIDANCE.mark) * GUIDANCE.mark : pressure;
  return (
    <svg
      className="bench-drawing bench-gauge"
      viewBox="0 0 300 300"
      role="img"
      aria-label="The gauge of the cuff"
    >
      {DIAL}
      <g transform={turn(shown)}>
        <path className="bench-needle" d="M147.5 172 L149.4 24 L150.6 24 L152.5 172 Z" />
        <circle className="bench-hub" cx="150" cy="150" r="8" />
      </g>
    </svg>
  );
}
