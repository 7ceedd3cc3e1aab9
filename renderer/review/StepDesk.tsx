import { KEYS, type Action } from '../../app/review/keys.ts';
import type { Row } from '../../app/review/sideBySide.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { leaveBy, MeasuredField } from '../parts/MeasuredField.tsx';
import { Shape } from '../parts/Shape.tsx';
import { StepText } from '../parts/StepText.tsx';
import { localDate } from '../words.ts';
import { VERDICTS } from './reviewView.ts';

/** The step that is open: what the machine says and why, and what the person says of it. */
export function StepDesk({
  row,
  hidden,
  canPlay,
  reason,
  onReason,
  onAct,
  onMeasured,
  onDone,
}: {
  readonly row: Row;
  /** Whether the machine's mark is hidden until the person has judged. */
  readonly hidden: boolean;
  readonly canPlay: boolean;
  readonly reason: string;
  readonly onReason: (reason: string) => void;
  readonly onAct: (action: Action) => void;
  readonly onMeasured: (value: number) => void;
  /** A field was left by Enter or Escape. */
  readonly onDone: () => void;
}) {
  const { text, critical, mark, verdict, measure } = row;
  return (
    <section className="step-desk" aria-label="The step that is open">
      <h2>
        <StepText text={text} critical={critical} />
      </h2>
      {hidden ? (
        <p>The machine’s mark is hidden until you have judged.</p>
      ) : (
        <MachineSays mark={mark} canPlay={canPlay} onAct={onAct} />
      )}
      {measure && (
        <MeasuredField
          key={row.step}
          label={
            <>
              {measure.measuredBy === 'simulated resident'
                ? 'What the simulated resident had, or you measured instead'
                : 'What you measured'}
              , in {measure.unit} <kbd>{KEYS.measure.shown}</kbd>
            </>
          }
          measure={measure}
          by="reviewer"
          onMeasured={onMeasured}
          onDone={onDone}
        />
      )}
      <label className="field">
        <span>
          Reason <kbd>{KEYS.reason.shown}</kbd>
        </span>
        <input
          data-field="reason"
          value={reason}
          maxLength={2000}
          onChange={({ target }) => onReason(target.value)}
          onKeyDown={(event) => leaveBy(event, onDone)}
        />
      </label>
      <div className="verdicts">
        {(['yes', 'no', 'unsure'] as const).map((each) => (
          <button
            key={each}
            type="button"
            className="button"
            aria-pressed={verdict?.verdict === each}
            onClick={() => onAct(each)}
          >
            {VERDICTS[each]} <kbd>{KEYS[each].shown}</kbd>
          </button>
        ))}
      </div>
      {verdict && (
        <p>
          {verdict.by} said {VERDICTS[verdict.verdict]} on {localDate(verdict.madeAt)}
          {verdict.reason !== '' && <>: “{verdict.reason}”</>}
          {verdict.heardAt !== null && `, heard at ${minutes(verdict.heardAt)}`}.
        </p>
      )}
    </section>
  );
}

function MachineSays({
  mark,
  canPlay,
  onAct,
}: {
  readonly mark: Row['mark'];
  readonly canPlay: boolean;
  readonly onAct: (action: Action) => void;
}) {
  if (!mark) return <p>This version of the skill has no such step: only the person’s mark is left.</p>;
  return (
    <>
      <p className="machine-says">
        <span aria-hidden="true">
          <Shape mark={mark.outcome} />
        </span>{' '}
        The machine says: {mark.outcome}. {mark.note}
      </p>
      {mark.evidence && (
        <p className="mark-words">
          {minutes(mark.evidence.start)} <q>{mark.evidence.text}</q>{' '}
          {canPlay && (
            <button type="button" className="button" onClick={() => onAct('hear')}>
              Hear it <kbd>{KEYS.hear.shown}</kbd>
            </button>
          )}
        </p>
      )}
    </>
  );
}
