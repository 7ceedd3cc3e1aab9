import { useState } from 'react';
import { SPOTS, type Spot } from './drawings/Wrist.tsx';

/** Where the fingers lie: held down with the pointer or Space, or kept there without holding. */
export function HoldSpot({
  spot,
  onHold,
}: {
  readonly spot: Spot | null;
  readonly onHold: (spot: Spot | null) => void;
}) {
  const [keep, setKeep] = useState(false);
  const letGo = (): void => {
    if (!keep) onHold(null);
  };
  return (
    <fieldset className="bench-part">
      <legend>Your fingers, held down on the spot</legend>
      <div className="actions">
        {SPOTS.map((each) => (
          <button
            key={each}
            type="button"
            className="button bench-hold"
            aria-pressed={spot === each}
            onPointerDown={() => onHold(each)}
            onPointerUp={letGo}
            onPointerLeave={letGo}
            onKeyDown={({ key }) => (key === ' ' || key === 'Enter') && onHold(each)}
            onKeyUp={letGo}
          >
            {each}
          </button>
        ))}
        <label className="choice">
          <input
            type="checkbox"
            checked={keep}
            onChange={() => {
              setKeep(!keep);
              if (keep) onHold(null);
            }}
          />
          Keep them there without holding
        </label>
      </div>
    </fieldset>
  );
}
