import type { StepMark } from '../../app/marking/assessment.ts';
import type { State, Stretch } from '../../app/marking/state.ts';
import { lanesOf } from '../room/endView.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { Shape } from './Shape.tsx';

/** Width and height of the drawing, in its own units; it is stretched to the page's width. */
const WIDTH = 1000;
const HEIGHT = 100;

/** The rehearsal as a line of time: speech, the coach, silences, and where each step was credited. */
export function Timeline({
  state,
  marks,
  seconds,
  silences,
}: {
  readonly state: State;
  readonly marks: readonly StepMark[];
  readonly seconds: number;
  readonly silences: readonly Stretch[];
}) {
  const x = (at: number): number => (Math.max(0, Math.min(seconds, at)) / Math.max(1, seconds)) * WIDTH;
  const bar = (from: number, to: number, key: string, name: string, y: number, height: number) => (
    <rect
      key={key}
      className={name}
      x={x(from)}
      y={y}
      width={Math.max(1.5, x(to) - x(from))}
      height={height}
    />
  );
  const said = marks.flatMap((mark) => (mark.at === null ? [] : [{ ...mark, x: x(mark.at) }]));
  said.sort((a, b) => a.x - b.x);
  const lanes = lanesOf(said.map((mark) => mark.x / WIDTH));
  const every = [10, 30, 60, 120, 300, 600].find((s) => seconds / s <= 10) ?? 1200;
  const ticks = Array.from({ length: Math.floor(seconds / every) + 1 }, (_, i) => i * every);
  const text =
    `${minutes(seconds)} minutes: you spoke ${state.utterances.length} times, ` +
    `${said.length} steps were heard, ${silences.length} long silences.`;
  return (
    <figure className="timeline">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={text} preserveAspectRatio="none">
        <rect className="timeline-ground" x="0" y="40" width={WIDTH} height="34" />
        {silences.map(({ from, to }) => bar(from, to, `q${from}`, 'timeline-silence', 40, 34))}
        {state.utterances.map((u) => bar(u.start, u.end, `u${u.id}`, 'timeline-speech', 44, 26))}
        {state.spoken.map((s, i) => bar(s.from, s.to, `s${i}`, 'timeline-coach', 66, 8))}
        {said.map((mark) => (
          <line
            key={mark.id}
            className={`timeline-mark mark-${mark.outcome.replaceAll(' ', '-')}`}
            x1={mark.x}
            x2={mark.x}
            y1="0"
            y2="44"
          />
        ))}
        {ticks.map((at) => (
          <line key={at} className="timeline-tick" x1={x(at)} x2={x(at)} y1="74" y2="82" />
        ))}
      </svg>
      {/* Shapes and figures stand beside the drawing: inside it they would be stretched with it. */}
      <div className="timeline-shapes" aria-hidden="true">
        {said.map((mark, i) => (
          <span key={mark.id} className={`lane-${lanes[i]}`} style={{ left: `${mark.x / 10}%` }}>
            <Shape mark={mark.outcome} />
          </span>
        ))}
      </div>
      <div className="timeline-times" aria-hidden="true">
        {ticks.map((at) => (
          <span key={at} style={{ left: `${x(at) / 10}%` }}>
            {minutes(at)}
          </span>
        ))}
      </div>
      <figcaption>
        <span className="key key-speech">you</span>
        <span className="key key-coach">the coach</span>
        <span className="key key-silence">long silence</span>
      </figcaption>
    </figure>
  );
}
