import { useEffect, useRef } from 'react';
import { Moment } from './sound/Moment.tsx';
import { Shape } from '../parts/Shape.tsx';
import type { Line } from '../room/endView.ts';

/** What was said; the line that is being played is lit up and kept in sight. */
export function ReviewTranscript({
  lines,
  blind,
  now,
  onSeek,
}: {
  readonly lines: readonly Line[];
  /** Whether the machine's marks are left out. */
  readonly blind: boolean;
  readonly now: number | null;
  readonly onSeek: (to: number) => void;
}) {
  const playing = now === null ? -1 : lines.findLastIndex(({ at }) => at <= now);
  const list = useRef<HTMLOListElement>(null);
  useEffect(() => {
    // The list alone moves: the page stays where the reviewer looks.
    const line = list.current?.children[playing];
    if (!(line instanceof HTMLElement) || !list.current) return;
    list.current.scrollTop = line.offsetTop - list.current.clientHeight / 2;
  }, [playing]);
  return (
    <section className="review-transcript" aria-label="What was said">
      <h2>What was said</h2>
      {lines.length === 0 && <p>Nothing was heard.</p>}
      <ol className="transcript" ref={list} tabIndex={0} aria-label="Lines in the order of the recording">
        {lines.map(({ key, who, at, pieces, note }, i) => (
          <li
            key={key}
            className={`line line-${who} ${i === playing ? 'playing' : ''}`}
            aria-current={i === playing || undefined}
          >
            <Moment at={at} onSeek={onSeek} />
            <p>
              {who === 'coach' && <span className="said-who">Coach </span>}
              {pieces.map(({ text, step, outcome }, n) =>
                step === null || blind ? (
                  <span key={n}>{text} </span>
                ) : (
                  <mark key={n} className={`on mark-${(outcome ?? 'heard').replaceAll(' ', '-')}`}>
                    {text} <Shape mark={outcome ?? 'heard'} title={`${step}: ${outcome ?? 'heard'}`} />{' '}
                  </mark>
                ),
              )}
              {note !== '' && <span className="hint">({note})</span>}
            </p>
          </li>
        ))}
      </ol>
    </section>
  );
}
