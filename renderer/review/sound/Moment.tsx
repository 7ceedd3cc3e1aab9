import { minutes } from '../../../app/marking/testClock.ts';

/** A moment of the recording that can be gone to. */
export function Moment({ at, onSeek }: { readonly at: number; readonly onSeek: (to: number) => void }) {
  return (
    <button
      type="button"
      className="line-time"
      aria-label={`Go to ${minutes(at)}`}
      onClick={() => onSeek(at)}
    >
      {minutes(at)}
    </button>
  );
}
