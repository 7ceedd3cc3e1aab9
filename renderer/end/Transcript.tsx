import { minutes } from '../../app/marking/testClock.ts';
import { Shape } from '../parts/Shape.tsx';
import type { Line, Piece } from '../room/endView.ts';
import { PlayButton } from './PlayButton.tsx';
import type { Sound } from './sound.ts';

/** Everything that was said, line by line, with the words that marks rest on drawn in. */
export function Transcript({
  lines,
  titles,
  sound,
}: {
  readonly lines: readonly Line[];
  /** The steps' texts by their ids. */
  readonly titles: ReadonlyMap<string, string>;
  readonly sound: Sound;
}) {
  if (lines.length === 0) return <p>Nothing was heard.</p>;
  return (
    <ol className="transcript">
      {lines.map(({ key, who, at, end, pieces, note }) => (
        <li key={key} className={`line line-${who}`}>
          <span className="line-time">{minutes(at)}</span>
          <p>
            {who === 'coach' && <span className="said-who">Coach</span>}{' '}
            {pieces.map((piece, i) => (
              <PieceText key={i} piece={piece} titles={titles} />
            ))}
            {note !== '' && <span className="hint">({note})</span>}
          </p>
          <PlayButton sound={sound} name={`what was said at ${at.toFixed(1)} s`} from={at} to={end} />
        </li>
      ))}
    </ol>
  );
}

function PieceText({
  piece: { text, step, outcome },
  titles,
}: {
  readonly piece: Piece;
  readonly titles: ReadonlyMap<string, string>;
}) {
  if (step === null) return <span>{text} </span>;
  const mark = outcome ?? 'heard';
  return (
    <mark className={`on mark-${mark.replaceAll(' ', '-')}`}>
      {text} <Shape mark={mark} title={`${titles.get(step) ?? step}: ${mark}`} />{' '}
    </mark>
  );
}
