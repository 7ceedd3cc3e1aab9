import { minutes } from '../../../app/marking/testClock.ts';
import type { Commented } from '../../../app/review/review.ts';
import type { Row } from '../../../app/review/sideBySide.ts';
import { Shape } from '../../parts/Shape.tsx';
import { lanesOf } from '../../room/endView.ts';
import { outlineOf, type Peaks } from './peaks.ts';

/** Width and height of the drawing, in its own units; it is stretched to the page's width. */
const WIDTH = 1000;
const HEIGHT = 100;
const MIDDLE = HEIGHT / 2;

/**
 * The recording as its outline, with every mark and comment on it and where it is being played. A click goes to a moment; the slider below
 * does so by keyboard.
 */
export function Waveform({
  peaks,
  seconds,
  rows,
  comments,
  step,
  now,
  onSeek,
}: {
  /** Null while it is being read, or where no sound was kept. */
  readonly peaks: Peaks | null;
  readonly seconds: number;
  readonly rows: readonly Row[];
  readonly comments: readonly Commented[];
  /** The step that is open: its words are lit up. */
  readonly step: string;
  readonly now: number | null;
  readonly onSeek: (to: number) => void;
}) {
  const share = (at: number): number => Math.max(0, Math.min(1, at / Math.max(1, seconds)));
  const x = (at: number): number => share(at) * WIDTH;
  const marks = rows.flatMap(({ mark }) => (mark?.evidence ? [{ ...mark, evidence: mark.evidence }] : []));
  const inTime = marks.sort((a, b) => a.evidence.start - b.evidence.start);
  const lanes = lanesOf(inTime.map(({ evidence }) => share(evidence.start)));
  const open = inTime.find(({ id }) => id === step)?.evidence;
  return (
    <figure className="waveform">
      <div className="waveform-marks" aria-hidden="true">
        {inTime.map(({ id, outcome, evidence }, i) => (
          <span
            key={id}
            className={`waveform-lane-${lanes[i]} ${id === step ? 'waveform-open' : ''}`}
            style={{ left: `${100 * share(evidence.start)}%` }}
          >
            <Shape mark={outcome} />
          </span>
        ))}
      </div>
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        preserveAspectRatio="none"
        aria-hidden="true"
        onClick={({ clientX, currentTarget }) => {
          const { left, width } = currentTarget.getBoundingClientRect();
          onSeek(((clientX - left) / width) * seconds);
        }}
      >
        <rect className="waveform-ground" width={WIDTH} height={HEIGHT} />
        {open && (
          <rect
            className="waveform-stretch"
            x={x(open.start)}
            width={Math.max(3, x(open.end) - x(open.start))}
            height={HEIGHT}
          />
        )}
        {peaks && <path className="waveform-sound" d={pathOf(peaks)} />}
        {inTime.map(({ id, evidence }) => (
          <line
            key={id}
            className="waveform-mark"
            x1={x(evidence.start)}
            x2={x(evidence.start)}
            y1="0"
            y2={HEIGHT}
          />
        ))}
        {comments.map(({ at, madeAt }) => (
          <path key={madeAt + at} className="waveform-comment" d={`M${x(at)} ${HEIGHT}v-26h9l-3 7 3 7h-9`} />
        ))}
        {now !== null && <line className="waveform-now" x1={x(now)} x2={x(now)} y1="0" y2={HEIGHT} />}
      </svg>
      <label className="waveform-slider">
        <span>
          {minutes(now ?? 0)} of {minutes(seconds)}
        </span>
        <input
          type="range"
          min="0"
          max={Math.ceil(seconds)}
          step="1"
          value={Math.round(now ?? 0)}
          aria-label="Moment of the recording"
          aria-valuetext={minutes(now ?? 0)}
          onChange={({ target }) => onSeek(Number(target.value))}
        />
      </label>
    </figure>
  );
}

/** The outline as one closed shape, above and below the middle. The square root lets soft speech be seen. */
function pathOf(peaks: Peaks): string {
  const heights = outlineOf(peaks, WIDTH / 2).map((height) => Math.max(0.6, Math.sqrt(height) * MIDDLE));
  const above = heights.map((height, i) => `L${2 * i} ${(MIDDLE - height).toFixed(1)}`);
  const below = heights.map((height, i) => `L${2 * i} ${(MIDDLE + height).toFixed(1)}`).reverse();
  return `M0 ${MIDDLE}${above.join('')}${below.join('')}Z`;
}
