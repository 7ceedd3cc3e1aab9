/** How far, in the drawing's units, a usual breath lifts the chest. */
const LIFT = 17;

/**
 * A resident in bed, seen from the side, whose chest and blanket rise and fall.
 *
 * @param height of the chest, 0 at rest, 1 at the height of a usual breath
 * @param still with less movement: nothing moves, the chest grows lighter and darker instead
 */
export function Chest({ height, still }: { readonly height: number; readonly still: boolean }) {
  const up = still ? 0 : height * LIFT;
  // The belly follows the chest; the shoulder hardly moves.
  const [shoulder, chest, belly] = [up * 0.25, up, up * 0.7];
  const body =
    `M168 196 C186 ${172 - shoulder} 208 ${160 - chest} 246 ${155 - chest} ` +
    `C290 ${150 - chest} 316 ${158 - belly} 350 ${164 - belly} C396 ${172 - belly * 0.6} 420 184 468 184`;
  const blanket =
    `M228 ${159 - chest} C234 ${153 - chest} 240 ${150 - chest} 250 ${149 - chest} ` +
    `C294 ${144 - chest} 318 ${152 - belly} 352 ${158 - belly} C398 ${166 - belly * 0.6} 424 178 470 178 ` +
    `C510 178 532 176 546 166 C556 158 572 158 580 170 L586 226 L222 226 C216 204 220 178 228 ${159 - chest} Z`;
  return (
    <svg
      className="bench-drawing"
      viewBox="0 60 640 220"
      role="img"
      aria-label="A resident in bed, breathing under a blanket"
    >
      <rect className="bench-wall" x="0" y="60" width="640" height="220" />
      <rect className="bench-wood" x="34" y="110" width="14" height="150" rx="5" />
      <rect className="bench-wood" x="602" y="176" width="12" height="84" rx="5" />
      <rect className="bench-wood" x="40" y="240" width="568" height="12" rx="4" />
      <rect className="bench-sheet" x="46" y="214" width="558" height="28" rx="10" />
      <path className="bench-pillow" d="M52 214 C50 186 66 176 100 180 C140 184 158 196 158 214 Z" />
      <path
        className="bench-hair"
        d="M76 176 C68 148 88 128 116 130 C126 130 130 136 126 142 L104 196 C90 198 80 190 76 176 Z"
      />
      <path
        className="bench-skin"
        d="M112 134 C126 128 140 132 146 142 C148 147 152 148 157 150 C160 152 159 156 155 157 C157 161 156 165 157 168 C158 173 155 177 150 177 C160 184 170 190 178 196 L166 214 L118 206 C102 200 94 186 96 168 C97 152 102 140 112 134 Z"
      />
      <path className="bench-ear" d="M116 172 C110 168 110 158 117 156 C124 156 125 166 120 172" />
      <path className="bench-line" d="M138 150 q5 3 9 1" />
      <path className="bench-line" d="M153 167 q-5 2 -9 0" />
      <path className="bench-gown" d={`${body} L468 226 L160 226 Z`} />
      <path className="bench-line" d={`M186 ${186 - shoulder} C204 200 214 212 218 226`} />
      <path className="bench-blanket" d={blanket} />
      <path
        className="bench-fold"
        d={`M228 ${159 - chest} C234 ${153 - chest} 240 ${150 - chest} 250 ${149 - chest} L262 ${147.6 - chest} C248 ${160 - chest} 244 190 246 226 L222 226 C216 204 220 178 228 ${159 - chest} Z`}
      />
      <path
        className="bench-crease"
        d={`M300 ${160 - chest * 0.8} C316 178 322 200 320 222 M372 ${172 - belly * 0.6} C384 186 388 204 386 222 M470 188 C476 200 478 212 476 222`}
      />
      {still && (
        <>
          <ellipse className="bench-breath" cx="300" cy="180" rx="70" ry="30" opacity={Math.min(1, height)} />
          <text className="bench-word" x="300" y="110" textAnchor="middle">
            {height > 0.5 ? 'raised' : 'low'}
          </text>
        </>
      )}
    </svg>
  );
}
