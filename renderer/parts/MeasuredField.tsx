import { useState } from 'react';
import type { Measure } from '../../app/review/sideBySide.ts';
import { apartBy } from '../../app/skills/tolerance.ts';

/** Where a measured number is written: kept when the field is left, and told beside what was said. */
export function MeasuredField({
  label,
  measure,
  by,
  onMeasured,
  onDone,
}: {
  readonly label: React.ReactNode;
  readonly measure: Measure;
  /** Who writes. The other's number is told, and not written over. */
  readonly by: NonNullable<Measure['measuredBy']>;
  readonly onMeasured: (value: number) => void;
  /** The field was left by Enter or Escape. */
  readonly onDone: () => void;
}) {
  const own = measure.measuredBy === by ? measure.truth : null;
  const [text, setText] = useState(own === null ? '' : String(own));
  const value = text.trim() === '' ? NaN : Number(text);
  const isFaulty = text.trim() !== '' && !Number.isFinite(value);
  return (
    <label className="field">
      <span>{label}</span>
      <input
        data-field="measure"
        inputMode="decimal"
        value={text}
        aria-invalid={isFaulty}
        onChange={({ target }) => setText(target.value)}
        onBlur={() => Number.isFinite(value) && value !== own && onMeasured(value)}
        onKeyDown={(event) => leaveBy(event, onDone)}
      />
      <span className="hint" role="status">
        {isFaulty ? 'That is no number: write it like 16 or 98.6.' : measureText(measure)}
      </span>
    </label>
  );
}

/** Enter and Escape leave a field. */
export function leaveBy(event: React.KeyboardEvent, onDone: () => void): void {
  if (event.key !== 'Enter' && event.key !== 'Escape') return;
  event.preventDefault();
  event.stopPropagation();
  onDone();
}

/** What there is to say of a reading beside its truth. */
export function measureText({ unit, said, truth, measuredBy, tolerance, within }: Measure): string {
  const heard = said === null ? 'No number was heard.' : `Said: ${said} ${unit}.`;
  if (truth === null || said === null) return heard;
  const by = measuredBy === 'rehearser' ? ', by the trainee or a partner' : '';
  const apart = `${heard} Measured${by}: ${truth}; ${apartBy(said, truth)} apart.`;
  if (tolerance === null) return `${apart} The rules in force set no limit.`;
  return `${apart} ${within ? 'Within' : 'Beyond'} the ${tolerance} that the rules allow.`;
}
