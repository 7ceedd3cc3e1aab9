import type { ReadingView } from '../readings/readingView.ts';
import '../styles/reading.css';
import { Shape } from './Shape.tsx';

/** Characters that fit at the figure's full size, and that size in the drawing's units. */
const FITS = 3;
const SIZE = 92;

const SAYS = {
  heard: { word: 'Right?', do: 'If not, say “no” and the number.' },
  asked: { word: 'Not sure', do: 'Say “yes”, or “no” and the number.' },
} as const;

/** A number as it was heard, in the place of the clock: large, with its unit and how it stands. */
export function ReadingLarge({ reading: { figure, unit, state } }: { readonly reading: ReadingView }) {
  const { word, do: what } = SAYS[state];
  return (
    <div className={`dial reading reading-${state}`} role="status">
      <svg viewBox="0 0 200 140" role="img" aria-label={figure}>
        <text
          className="figure"
          x="100"
          y="74"
          textAnchor="middle"
          dominantBaseline="middle"
          style={{ fontSize: `${SIZE * Math.min(1, FITS / figure.length)}px` }}
        >
          {figure}
        </text>
      </svg>
      <p className="dial-text">
        {unit}
        <strong>
          <Shape mark={state === 'heard' ? 'heard' : 'unsure'} /> {word}
        </strong>
        {what}
      </p>
    </div>
  );
}
