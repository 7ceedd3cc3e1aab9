const hand = (turn: number): string => `rotate(${turn * 360} 100 100)`;

/** All that does not move; made once, so that only the hands are drawn again from picture to picture. */
const FACE = (
  <g>
    <circle className="bench-rim" cx="100" cy="100" r="94" />
    <circle className="bench-face" cx="100" cy="100" r="87" />
    {Array.from({ length: 60 }, (_, i) => (
      <line
        key={i}
        className={i % 5 === 0 ? 'bench-mark bench-mark-long' : 'bench-mark'}
        x1="100"
        x2="100"
        y1="18"
        y2={i % 5 === 0 ? 32 : 24}
        transform={hand(i / 60)}
      />
    ))}
  </g>
);

/**
 * A wall clock without digits, whose second hand sweeps.
 *
 * @param seconds since midnight of its own day
 * @param still with less movement: the second hand steps from second to second
 */
export function Clock({ seconds, still }: { readonly seconds: number; readonly still: boolean }) {
  const shown = still ? Math.floor(seconds) : seconds;
  return (
    <svg
      className="bench-drawing bench-clock"
      viewBox="0 0 200 200"
      role="img"
      aria-label="A clock with a second hand"
    >
      {FACE}
      <line className="bench-hand-hour" x1="100" x2="100" y1="108" y2="56" transform={hand(shown / 43_200)} />
      <line className="bench-hand-minute" x1="100" x2="100" y1="112" y2="32" transform={hand(shown / 3600)} />
      <g transform={hand(shown / 60)}>
        <line className="bench-hand-second" x1="100" x2="100" y1="122" y2="22" />
        <circle className="bench-hub" cx="100" cy="100" r="5" />
      </g>
    </svg>
  );
}
