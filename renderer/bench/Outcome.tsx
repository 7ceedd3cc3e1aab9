import { useEffect, useRef } from 'react';
import type { Comparison, Stretch } from '../../app/bench/readings/reading.ts';
import type { BenchRemark } from '../../app/bench/resident/remarks.ts';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { differenceSays, figure, REMARK_SAYS, UNIT_SAYS, verdictSays } from './words.ts';

/** A reading that was taken, as it is kept for the numbers over all of them. */
export interface Taken {
  /** "Respirations", "Upper number". */
  readonly name: string;
  readonly comparison: Comparison;
  /** From where to where was counted; null for what is read off. */
  readonly stretch: Stretch | null;
}

/** A reading as it is kept, with the moment at which it was taken. */
export const keptOf = ({ name, comparison, stretch }: Taken, at: Date): ReadingTaken => {
  const { unit, recorded, truth } = comparison;
  return { name, unit, recorded, truth, stretch, takenAt: at.toISOString() };
};

interface Told {
  readonly taken: readonly Pick<Taken, 'name' | 'comparison'>[];
  readonly remarks: readonly BenchRemark[];
  /** Further sentences, of this measure alone. */
  readonly notes?: readonly string[];
  /** The picture of the truth. */
  readonly children?: React.ReactNode;
}

/** The truth, what was recorded, and what was noticed on the way, with the way to the next resident. */
export function Outcome({ onNext, ...told }: Told & { readonly onNext: () => void }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  return (
    <section className="bench-part">
      <h2 ref={heading} tabIndex={-1}>
        How it was
      </h2>
      <OutcomeFacts {...told} />
      <div className="actions">
        <button type="button" className="button main" onClick={onNext}>
          Next resident
        </button>
      </div>
    </section>
  );
}

/** The truth, what was recorded, and what was noticed on the way. */
export function OutcomeFacts({ taken, remarks, notes = [], children }: Told) {
  return (
    <>
      {taken.map(({ name, comparison }) => {
        const unit = UNIT_SAYS[comparison.unit];
        return (
          <dl key={name} className="bench-facts" aria-label={name}>
            <div>
              <dt>{name}: the truth</dt>
              <dd>
                {figure(comparison.truth)} {unit}
              </dd>
            </div>
            <div>
              <dt>You recorded</dt>
              <dd>
                {figure(comparison.recorded)} {unit}
              </dd>
            </div>
            <div>
              <dt>{verdictSays(comparison)}</dt>
              <dd>
                {comparison.verdict === 'within' && '✓ '}
                {comparison.verdict === 'outside' && '✗ '}
                {differenceSays(comparison.difference)}
              </dd>
            </div>
          </dl>
        );
      })}
      {children}
      {remarks.length + notes.length > 0 && (
        <ul className="bench-remarks">
          {remarks.map((remark) => (
            <li key={remark}>{REMARK_SAYS[remark]}</li>
          ))}
          {notes.map((note) => (
            <li key={note} className="bench-note">
              {note}
            </li>
          ))}
        </ul>
      )}
    </>
  );
}
