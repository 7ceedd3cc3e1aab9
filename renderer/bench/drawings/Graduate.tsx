import { CONTAINER, heightOf, meniscusRise } from '../../../app/bench/container.ts';

/** The drawing's units for a millimetre, and the place of the container's floor and axis in it. */
const SCALE = 2.1;
const FLOOR = 380;
const AXIS = 170;
const R = CONTAINER.radius * SCALE;
const WALL = 172;

/** The angle at which water meets the clear plastic, in degrees (from memory: some 60 to 80 on most plastics, less when wetted). */
const MENISCUS = meniscusRise(40);

const marks = Array.from({ length: CONTAINER.capacity / CONTAINER.mark }, (_, i) => (i + 1) * CONTAINER.mark);

/**
 * A graduated container with liquid, seen from far off at an angle from above: parallel lines of sight, so that a mark in front
 * covers what stands lower by the radius times the tangent of the angle behind it, as `seenFrom` says.
 *
 * @param volume millilitres
 * @param above degrees from which one looks down, 0 being eye level
 */
export function Graduate({ volume, above }: { readonly volume: number; readonly above: number }) {
  const angle = (above * Math.PI) / 180;
  const [flat, squash] = [Math.cos(angle), Math.sin(angle)];
  /** Where a point of the axis at a height in millimetres is seen; the front of the wall lies `R · squash` lower. */
  const y = (height: number): number => FLOOR - height * SCALE * flat;
  const depth = R * squash;
  const surface = y(heightOf(volume));
  const climb = MENISCUS * SCALE * flat;
  const [top, bottom] = [y(WALL), y(0)];
  /** The front half of a ring round the container, between two places across it. */
  const ring = (height: number, from: number, to: number): string => {
    const at = (x: number): string => `${AXIS + x} ${height + depth * Math.sqrt(1 - (x / R) ** 2)}`;
    const steps = Array.from({ length: 13 }, (_, i) => from + ((to - from) * i) / 12);
    return `M${steps.map(at).join(' L')}`;
  };
  const liquid =
    `M${AXIS - R} ${surface - climb} Q${AXIS - R * 0.8} ${surface} ${AXIS} ${surface} ` +
    `Q${AXIS + R * 0.8} ${surface} ${AXIS + R} ${surface - climb} L${AXIS + R} ${bottom} ` +
    `A${R} ${Math.max(0.01, depth)} 0 0 1 ${AXIS - R} ${bottom} Z`;
  return (
    <svg
      className="bench-drawing bench-graduate"
      viewBox="0 0 340 436"
      role="img"
      aria-label={`A measuring container, seen ${above === 0 ? 'at eye level' : 'from above'}`}
    >
      <rect className="bench-wall" x="0" y="0" width="340" height="436" />
      <rect className="bench-sheet" x="0" y={FLOOR - 6 * flat} width="340" height="200" />
      <ellipse className="bench-glass" cx={AXIS} cy={bottom} rx={R} ry={depth} />
      <path className="bench-liquid" d={liquid} />
      <ellipse className="bench-surface" cx={AXIS} cy={surface} rx={R} ry={depth} />
      <circle className="bench-lowest" cx={AXIS} cy={surface} r={above === 0 ? 0 : 2.5} />
      <path
        className="bench-glass"
        d={`M${AXIS - R} ${top} L${AXIS - R} ${bottom} A${R} ${Math.max(0.01, depth)} 0 0 0 ${AXIS + R} ${bottom} L${AXIS + R} ${top}`}
      />
      <ellipse className="bench-glass" cx={AXIS} cy={top} rx={R} ry={depth} />
      {marks.map((mark) => {
        const long = mark % 100 === 0;
        const height = y(heightOf(mark));
        return (
          <g key={mark}>
            <path
              className={long ? 'bench-mark bench-mark-long' : 'bench-mark'}
              d={ring(height, long ? -34 : -20, long ? 34 : 20)}
              fill="none"
            />
            {long && (
              <text className="bench-figure" x={AXIS + 40} y={height + depth} dominantBaseline="central">
                {mark}
              </text>
            )}
          </g>
        );
      })}
      <text className="bench-figure bench-unit" x={AXIS + 40} y={y(heightOf(1060)) + depth}>
        mL
      </text>
    </svg>
  );
}
