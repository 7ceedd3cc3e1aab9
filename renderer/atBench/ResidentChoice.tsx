import type { ResidentSettings } from '../../app/settings/resident.ts';
import { useLessMotion } from '../bench/useTime.ts';
import { ChannelChoice } from './ChannelChoice.tsx';

const KINDS = [
  [
    'ordinary',
    'A simulated resident',
    'Drawn and heard where you would measure; the truth is shown afterwards.',
  ],
  [
    'any',
    'A simulated resident who may be unusual',
    'Slow, fast, irregular, with a silent gap: you are not told.',
  ],
  ['none', 'None', 'You measure a person, or only say the number.'],
] as const;

/** Largest number of a resident: it can be read out and typed in. */
const MOST_SEED = 100_000_000;

/** Whom one measures in the rehearsal, and by which senses. */
export function ResidentChoice({
  resident,
  onChange,
}: {
  readonly resident: ResidentSettings;
  readonly onChange: (resident: ResidentSettings) => void;
}) {
  const less = useLessMotion();
  return (
    <>
      <fieldset className="choices">
        <legend>Whom you measure</legend>
        {KINDS.map(([kind, title, text]) => (
          <label key={kind} className="choice">
            <input
              type="radio"
              name="resident"
              checked={resident.kind === kind}
              onChange={() => onChange({ ...resident, kind })}
            />
            <span>
              {title}
              <span className="hint">{text}</span>
            </span>
          </label>
        ))}
      </fieldset>
      {resident.kind !== 'none' && (
        <details className="fold">
          <summary>How you meet the resident</summary>
          <ChannelChoice
            channels={{ ...resident, still: resident.still || less }}
            less={less}
            onChange={(channels) => onChange({ ...resident, ...channels })}
          />
          <label className="choice">
            <span>
              Number of the resident
              <span className="hint">
                Empty for a new one each time. The same number gives the same resident.
              </span>
            </span>
            <input
              className="number"
              inputMode="numeric"
              value={resident.seed ?? ''}
              onChange={({ target: { value } }) => onChange({ ...resident, seed: seedOf(value) })}
            />
          </label>
        </details>
      )}
    </>
  );
}

const seedOf = (text: string): number | null => {
  const digits = text.replace(/\D/g, '').slice(0, String(MOST_SEED).length - 1);
  return digits === '' ? null : Number(digits);
};
