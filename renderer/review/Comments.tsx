import { useState } from 'react';
import { minutes } from '../../app/marking/testClock.ts';
import { KEYS, type Action } from '../../app/review/keys.ts';
import type { Commented } from '../../app/review/review.ts';
import { Moment } from './sound/Moment.tsx';

/** Comments at moments of the recording, and the one being written. */
export function Comments({
  comments,
  writingAt,
  onComment,
  onClose,
  onAct,
  onSeek,
}: {
  readonly comments: readonly Commented[];
  /** The moment a comment is being written about; null while none is. */
  readonly writingAt: number | null;
  readonly onComment: (at: number, text: string) => void;
  readonly onClose: () => void;
  readonly onAct: (action: Action) => void;
  readonly onSeek: (to: number) => void;
}) {
  return (
    <section aria-label="Comments">
      <h2>Comments</h2>
      <ul className="comments">
        {comments.map(({ at, text, by, madeAt }) => (
          <li key={madeAt + at}>
            <Moment at={at} onSeek={onSeek} />
            <p>
              {text} <span className="hint">{by}</span>
            </p>
          </li>
        ))}
      </ul>
      {writingAt === null ? (
        <button type="button" className="button" onClick={() => onAct('comment')}>
          Comment at this moment <kbd>{KEYS.comment.shown}</kbd>
        </button>
      ) : (
        <Writing at={writingAt} onComment={onComment} onClose={onClose} />
      )}
    </section>
  );
}

function Writing({
  at,
  onComment,
  onClose,
}: {
  readonly at: number;
  readonly onComment: (at: number, text: string) => void;
  readonly onClose: () => void;
}) {
  const [text, setText] = useState('');
  const save = (): void => {
    if (text.trim() !== '') onComment(at, text.trim());
    onClose();
  };
  return (
    <label className="field">
      <span>Comment at {minutes(at)}: Enter keeps it, Escape drops it</span>
      <textarea
        autoFocus
        rows={2}
        maxLength={2000}
        value={text}
        onChange={({ target }) => setText(target.value)}
        onKeyDown={(event) => {
          const isSave = event.key === 'Enter' && !event.shiftKey;
          if (!isSave && event.key !== 'Escape') return;
          event.preventDefault();
          event.stopPropagation();
          if (isSave) save();
          else onClose();
        }}
      />
    </label>
  );
}
