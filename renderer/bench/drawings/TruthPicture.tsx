import { chestAt, type Breathing } from '../../../app/bench/breaths.ts';
import type { CuffPoint, HeardBeat, Measured } from '../../../app/bench/pressure.ts';
import { wristAt, type Pulse } from '../../../app/bench/pulse.ts';
import type { Stretch } from '../../../app/bench/readings/reading.ts';
import { beganWithin, type Moment } from '../../../app/bench/rhythm.ts';

const [WIDTH, LEFT, RIGHT] = [1000, 20, 980];
const BASE = 170;

/** What was counted: a resident's breaths or beats. */
export type Counted =
  { readonly kind: 'breaths'; readonly of: Breathing } | { readonly kind: 'beats'; readonly of: Pulse };

/** A picture with what its parts mean. */
const Explained = ({ text, children }: { readonly text: string; readonly children: React.ReactNode }) => (
  <figure>
    {children}
    <figcaption className="hint">{text}</figcaption>
  </figure>
);

/** The minute as it was: each breath or beat with its number, and from where to where the trainee counted. */
export function CountTruth({
  counted,
  stretch,
  seconds,
}: {
  readonly counted: Counted;
  readonly stretch: Stretch;
  /** How long it should have been, in seconds. */
  readonly seconds: 60 | 30;
}) {
  const { from, to } = stretch;
  const due = from + seconds;
  const [start, end] = [from - 3, Math.max(due, to) + 3];
  const x = (at: number): number => LEFT + ((at - start) / (end - start)) * (RIGHT - LEFT);
  const moments: readonly Moment[] = counted.kind === 'breaths' ? counted.of.breaths : counted.of.beats;
  const all = beganWithin(moments, from, due);
  const shown = beganWithin(moments, start, end);
  const numberOf = new Map(all.map(({ at }, i) => [at, i + 1]));
  // A hundred numbers would cover each other.
  const every = counted.kind === 'breaths' ? 1 : 5;
  return (
    <Explained
      text={`Shaded: the ${seconds} seconds from your start. Numbered: each of the ${counted.kind} that began in them. Bracket: where you counted.`}
    >
      <svg
        className="bench-truth"
        viewBox={`0 0 ${WIDTH} 235`}
        role="img"
        aria-label={`${all.length} ${counted.kind} began in the ${seconds} seconds. You counted for ${Math.round(to - from)} seconds.`}
      >
        <rect className="bench-minute" x={x(from)} y="20" width={x(due) - x(from)} height={BASE - 8} />
        <path className="bench-curve" d={curveOf(counted, start, end, x)} />
        {shown.map(({ at }) => {
          const number = numberOf.get(at);
          const isEven = number !== undefined && number % every === 0 && number <= all.length - every / 2;
          const isNumbered = isEven || number === all.length || number === 1;
          return (
            <g key={at}>
              <line
                className={number === undefined ? 'bench-out' : 'bench-began'}
                x1={x(at)}
                x2={x(at)}
                y1={BASE}
                y2={BASE + (number === undefined ? 8 : 14)}
              />
              {isNumbered && (
                <text className="bench-figure" x={x(at)} y="206" textAnchor="middle">
                  {number}
                </text>
              )}
            </g>
          );
        })}
        <Bracket from={x(from)} to={x(to)} text={`you counted ${Math.round(to - from)} s`} />
      </svg>
    </Explained>
  );
}

function curveOf(counted: Counted, start: number, end: number, x: (at: number) => number): string {
  const height = (at: number): number =>
    counted.kind === 'breaths' ? chestAt(counted.of, at) * 55 : wristAt(counted.of, at) * 70;
  const points = Array.from({ length: 1200 }, (_, i) => start + ((end - start) * i) / 1199);
  return `M${points.map((at) => `${x(at).toFixed(1)} ${(BASE - height(at)).toFixed(1)}`).join('L')}`;
}

function Bracket({ from, to, text }: { readonly from: number; readonly to: number; readonly text: string }) {
  return (
    <g>
      <path className="bench-bracket" d={`M${from} 232 V222 H${to} V232`} />
      <path className="bench-bracket bench-edge" d={`M${from} 20 V222 M${to} 20 V222`} />
      <text className="bench-figure" x={from + 8} y="15">
        {text}
      </text>
    </g>
  );
}

/** The cuff's pressure as it was, each beat that could be heard, and the first and last sound of the last let-down. */
export function CuffTruth({
  points,
  heard,
  measured,
}: {
  readonly points: readonly CuffPoint[];
  readonly heard: readonly HeardBeat[];
  readonly measured: Measured;
}) {
  const end = Math.max(10, points.at(-1)?.at ?? 10);
  const highest = Math.max(120, ...points.map(({ pressure }) => pressure)) + 10;
  const x = (at: number): number => 60 + (at / end) * (RIGHT - 60);
  const y = (pressure: number): number => 220 - (pressure / highest) * 195;
  const grid = Array.from({ length: Math.floor(highest / 40) + 1 }, (_, i) => i * 40);
  const numbers = [measured.first, measured.last].filter((value) => value !== null);
  return (
    <Explained text="Dots: the beats that can be heard with a stethoscope. Small and full: a tap. Open: a swish, or muffled at the end. Large: a thump.">
      <svg
        className="bench-truth"
        viewBox={`0 0 ${WIDTH} 240`}
        role="img"
        aria-label={`The cuff went up to ${Math.round(measured.peak)}; first sound at ${measured.first ?? 'none'}, last sound at ${measured.last ?? 'none'}.`}
      >
        {grid.map((pressure) => (
          <g key={pressure}>
            <line className="bench-grid" x1="60" x2={RIGHT} y1={y(pressure)} y2={y(pressure)} />
            <text className="bench-figure" x="50" y={y(pressure)} textAnchor="end" dominantBaseline="central">
              {pressure}
            </text>
          </g>
        ))}
        <path className="bench-curve" d={`M${points.map((p) => `${x(p.at)} ${y(p.pressure)}`).join('L')}`} />
        {heard.map(({ at, pressure, phase }) => (
          <circle
            key={at}
            className={`bench-heard bench-phase-${phase}`}
            cx={x(at)}
            cy={y(pressure)}
            r={phase === 3 ? 6 : 4.5}
          />
        ))}
        {numbers.map((value, i) => (
          <g key={i}>
            <line
              className="bench-bracket"
              x1="60"
              x2={RIGHT}
              y1={y(value)}
              y2={y(value)}
              strokeDasharray="6 6"
            />
            <text className="bench-figure bench-strong" x={RIGHT} y={y(value) - 6} textAnchor="end">
              {i === 0 ? 'first sound' : 'last sound'} {value}
            </text>
          </g>
        ))}
      </svg>
    </Explained>
  );
}
