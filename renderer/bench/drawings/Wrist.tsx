/** Where fingers can lie on the inside of the wrist. The artery runs on the thumb's side. */
export const SPOTS = ['thumb side', 'middle', 'little-finger side'] as const;
export type Spot = (typeof SPOTS)[number];

const Y: Readonly<Record<Spot, number>> = { 'thumb side': 128, middle: 162, 'little-finger side': 198 };

/**
 * A resident's hand and forearm, palm up, with two fingertips of the trainee on it, or beside it where `spot` is null.
 *
 * @param lift how far a beat lifts the fingers, 0–1
 * @param still with less movement: the fingernails grow light instead of lifting
 */
export function Wrist({
  spot,
  lift,
  still,
}: {
  readonly spot: Spot | null;
  readonly lift: number;
  readonly still: boolean;
}) {
  const y = spot === null ? 20 : Y[spot] - (still ? 0 : lift * 7);
  return (
    <svg
      className="bench-drawing"
      viewBox="0 0 640 280"
      role="img"
      aria-label={`A resident's wrist, palm up; ${spot === null ? 'no fingers on it' : `two fingertips on the ${spot}`}`}
    >
      <rect className="bench-wall" x="0" y="0" width="640" height="280" />
      <rect className="bench-sheet" x="0" y="206" width="640" height="74" />
      <path
        className="bench-skin"
        d="M640 96 C560 94 470 104 408 112 C380 115 356 112 336 104 C310 92 284 80 262 66 C250 58 234 66 240 80 C246 94 262 104 278 118 C262 116 200 110 150 108 C132 108 132 128 148 130 L128 130 C108 131 108 151 128 153 L122 155 C102 157 103 177 123 178 L132 180 C114 183 116 201 134 202 C180 206 250 214 300 224 C336 230 372 222 410 220 C480 218 560 226 640 230 Z"
      />
      <path
        className="bench-line"
        d="M150 130 C190 132 220 134 250 138 M130 154 C180 156 220 158 250 160 M134 180 C180 182 220 184 248 186"
      />
      <path className="bench-line" d="M278 118 C300 130 312 150 310 180 M268 140 C284 150 292 166 290 190" />
      <path className="bench-line" d="M402 113 C396 140 396 190 404 220 M416 112 C410 140 410 190 418 219" />
      <path
        className="bench-crease"
        d="M440 150 C500 152 560 150 630 146 M450 174 C510 178 570 178 630 176"
      />
      <rect className="bench-gown" x="566" y="84" width="80" height="156" rx="12" />
      {[0, 1].map((finger) => (
        <g key={finger} transform={`translate(${436 + finger * 38} ${y})`}>
          <path className="bench-finger" d="M-15 -240 L-15 -6 C-15 14 15 14 15 -6 L15 -240 Z" />
          <path
            className="bench-nail"
            d="M-9 -14 C-9 -28 9 -28 9 -14 L9 -4 C9 6 -9 6 -9 -4 Z"
            style={{ opacity: still ? 0.25 + 0.75 * lift : 0.6 }}
          />
        </g>
      ))}
    </svg>
  );
}
