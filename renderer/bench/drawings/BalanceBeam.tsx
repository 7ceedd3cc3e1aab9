import type { Beam, Poises } from '../../../app/bench/scale.ts';

const LEFT = 60;
const WIDTH = 470;

/** How many marks the close-up shows on either side of the small poise, and how far apart they are. */
const CLOSE = 10;
const APART = 23.5;

/**
 * A balance beam: the large poise in its notches, the small one on its marks with a close-up, and the pointer at the beam's end.
 *
 * @param pointer −1 to 1; 0 is the middle
 */
export function BalanceBeam({
  beam,
  poises,
  pointer,
}: {
  readonly beam: Beam;
  readonly poises: Poises;
  readonly pointer: number;
}) {
  const large = (notch: number): number => LEFT + (notch / beam.notches) * WIDTH;
  const small = (value: number): number => LEFT + (value / beam.notch) * WIDTH;
  const tilt = -pointer * 2.2;
  return (
    <svg className="bench-drawing" viewBox="0 0 640 270" role="img" aria-label="The beam of a standing scale">
      <rect className="bench-wall" x="0" y="0" width="640" height="270" />
      <g transform={`rotate(${tilt} 30 92)`}>
        <rect className="bench-metal" x="20" y="44" width="580" height="34" rx="4" />
        <rect className="bench-metal" x="20" y="98" width="580" height="34" rx="4" />
        <rect className="bench-metal" x="20" y="44" width="22" height="88" rx="4" />
        <rect className="bench-metal" x="578" y="44" width="22" height="88" rx="4" />
        <path className="bench-needle" d="M600 92 L566 84 L566 100 Z" transform="translate(26 -4)" />
        {Array.from({ length: beam.notches + 1 }, (_, i) => (
          <g key={i}>
            <path className="bench-notch" d={`M${large(i) - 5} 44 L${large(i)} 52 L${large(i) + 5} 44 Z`} />
            <text className="bench-figure bench-small" x={large(i)} y="72" textAnchor="middle">
              {i * beam.notch}
            </text>
          </g>
        ))}
        {Array.from({ length: beam.notch + 1 }, (_, i) => (
          <line
            key={i}
            className={i % 5 === 0 ? 'bench-mark bench-mark-long' : 'bench-mark'}
            x1={small(i)}
            x2={small(i)}
            y1="98"
            y2={i % 5 === 0 ? 110 : 105}
          />
        ))}
        {Array.from({ length: beam.notch / 5 + 1 }, (_, i) => (
          <text key={i} className="bench-figure bench-small" x={small(i * 5)} y="126" textAnchor="middle">
            {i * 5}
          </text>
        ))}
        <path
          className="bench-poise"
          d="M-11 -24 H11 V-6 L0 6 L-11 -6 Z"
          transform={`translate(${large(poises.large)} 46)`}
        />
        <path
          className="bench-poise"
          d="M-7 -15 H7 V-4 L0 5 L-7 -4 Z"
          transform={`translate(${small(poises.small)} 98)`}
        />
      </g>
      <g>
        <rect className="bench-window" x="612" y="50" width="16" height="84" rx="4" />
        <line className="bench-mark bench-mark-long" x1="608" x2="632" y1="92" y2="92" />
      </g>
      <CloseUp beam={beam} value={poises.small} />
    </svg>
  );
}

/** The marks beside the small poise, large enough to be read. */
function CloseUp({ beam, value }: { readonly beam: Beam; readonly value: number }) {
  const at = Math.round(value / beam.mark);
  const perUnit = Math.round(1 / beam.mark);
  const shown = Array.from({ length: 2 * CLOSE + 1 }, (_, i) => at - CLOSE + i).filter(
    (mark) => mark >= 0 && mark * beam.mark <= beam.notch,
  );
  const x = (mark: number): number => 300 + (mark - at) * APART;
  return (
    <g>
      <rect className="bench-metal" x="50" y="196" width="500" height="56" rx="8" />
      {shown.map((mark) => (
        <line
          key={mark}
          className={mark % perUnit === 0 ? 'bench-mark bench-mark-long' : 'bench-mark'}
          x1={x(mark)}
          x2={x(mark)}
          y1="196"
          y2={mark % perUnit === 0 ? 220 : 211}
        />
      ))}
      {shown
        .filter((mark) => mark % perUnit === 0)
        .map((mark) => (
          <text key={mark} className="bench-figure" x={x(mark)} y="243" textAnchor="middle">
            {mark / perUnit}
          </text>
        ))}
      <path className="bench-poise" d="M-16 -26 H16 V-10 L0 4 L-16 -10 Z" transform="translate(300 196)" />
      <text className="bench-figure bench-small" x="50" y="186">
        The small poise, close up
      </text>
    </g>
  );
}
