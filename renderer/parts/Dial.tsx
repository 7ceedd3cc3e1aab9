import { minutes } from '../../app/marking/testClock.ts';
import type { Dial as DialView } from '../room/roomView.ts';

/** Radius of the ring in the drawing's units, and its length. */
const R = 88;
const ROUND = 2 * Math.PI * R;

const SAYS = {
  running: '',
  reached: 'Long enough',
  halted: 'Halted: say that you go on',
  doubtful: 'Still going? Say so',
} as const;

function figuresOf(dial: DialView): { readonly figure: string; readonly target: string } {
  switch (dial.kind) {
    case 'timed':
      return { figure: String(dial.seconds), target: `of ${dial.of} s` };
    case 'counted':
      return { figure: String(dial.counted), target: `of ${dial.of} times` };
    case 'test':
      return { figure: minutes(dial.seconds), target: dial.of === null ? '' : `of ${minutes(dial.of)}` };
  }
}

/** The clock that matters now, huge: a ring that fills to its target, with the figure inside. */
export function Dial({ dial }: { readonly dial: DialView }) {
  const state = dial.kind === 'timed' ? dial.state : dial.kind;
  const { figure, target } = figuresOf(dial);
  const says = dial.kind === 'timed' ? SAYS[dial.state] : '';
  return (
    <div
      className={`dial dial-${state}`}
      role="timer"
      aria-label={`${dial.label}: ${figure} ${target}. ${says}`}
    >
      <svg viewBox="0 0 200 200" aria-hidden="true">
        <circle className="track" cx="100" cy="100" r={R} />
        <circle
          className="run"
          cx="100"
          cy="100"
          r={R}
          strokeDasharray={`${dial.share * ROUND} ${ROUND}`}
          transform="rotate(-90 100 100)"
        />
        {state === 'reached' && <path className="reached" d="M85 42l11 11 20-23" />}
        <text className="figure" x="100" y="106" textAnchor="middle" dominantBaseline="middle">
          {figure}
        </text>
        <text className="target" x="100" y="160" textAnchor="middle">
          {target}
        </text>
      </svg>
      <p className="dial-text">
        {dial.label}
        {says !== '' && <strong>{says}</strong>}
      </p>
    </div>
  );
}
