/** How the room stands: whether it hears, and what it waits for. */
export type Standing = 'opening' | 'ready' | 'listening' | 'paused' | 'correcting' | 'ending';

/** A sign for how the room stands that can be told by its shape alone. Its word stands beside it. */
export const StandingSign = ({ standing }: { readonly standing: Standing }) => (
  <svg className={`standing standing-${standing}`} viewBox="0 0 32 32" aria-hidden="true">
    {DRAWN[standing]}
  </svg>
);

const waits = <circle className="edge" cx="16" cy="16" r="12" />;

const DRAWN: Readonly<Record<Standing, React.JSX.Element>> = {
  opening: waits,
  ready: waits,
  // A microphone.
  listening: (
    <>
      <rect className="fill" x="11" y="2" width="10" height="17" rx="5" />
      <path className="edge" d="M6 14v1a10 10 0 0 0 20 0v-1M16 25v5" />
    </>
  ),
  paused: <path className="fill" d="M6 4h7v24H6zM19 4h7v24h-7z" />,
  // An arrow that turns back.
  correcting: <path className="edge" d="M13 5L6 12l7 7M7 12h13a7 7 0 0 1 0 14h-5" />,
  ending: waits,
};
