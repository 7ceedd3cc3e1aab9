import type { Row } from '../../app/review/sideBySide.ts';
import { MeasuredField } from '../parts/MeasuredField.tsx';
import type { MeasuredValues } from './useMeasured.ts';

/** The numbers that were said beside those that somebody measured, which can be given here. Nothing for a skill without any. */
export function Numbers({
  rows,
  kept: { isRead, trouble, tryAgain },
  onMeasured,
}: {
  readonly rows: readonly Row[];
  readonly kept: Pick<MeasuredValues, 'isRead' | 'trouble' | 'tryAgain'>;
  readonly onMeasured: (step: string, value: number) => void;
}) {
  // What a simulated resident had stands beside their picture.
  const measured = rows.flatMap(({ step, text, measure }) =>
    measure && measure.measuredBy !== 'simulated resident' ? [{ step, text, measure }] : [],
  );
  if (measured.length === 0 || !isRead) return null;
  return (
    <>
      <h2>Numbers</h2>
      <p className="hint">
        Write down what was measured beside you, by a partner or with the right instrument. It counts by the
        rules in force, here and in the report.
      </p>
      {measured.map(({ step, text, measure }) => (
        <MeasuredField
          key={step}
          label={`Measured, in ${measure.unit}: ${text}`}
          measure={measure}
          by="rehearser"
          onMeasured={(value) => onMeasured(step, value)}
          onDone={() => (document.activeElement as HTMLElement | null)?.blur()}
        />
      ))}
      {trouble !== '' && (
        <p className="notice" role="alert">
          Not kept yet: {trouble}{' '}
          <button type="button" className="button" onClick={tryAgain}>
            Try again
          </button>
        </p>
      )}
    </>
  );
}
