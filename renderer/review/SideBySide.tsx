import { useEffect, useRef } from 'react';
import type { Row } from '../../app/review/sideBySide.ts';
import { Shape } from '../parts/Shape.tsx';
import { StepText } from '../parts/StepText.tsx';
import { isHidden, VERDICT_SHAPES, VERDICTS } from './reviewView.ts';

/** Every step with the machine's mark and the person's beside each other. */
export function SideBySide({
  rows,
  blind,
  step,
  onChoose,
}: {
  readonly rows: readonly Row[];
  readonly blind: boolean;
  readonly step: string;
  readonly onChoose: (step: string) => void;
}) {
  return (
    <table className="side-by-side">
      <thead>
        <tr>
          <th scope="col">Step</th>
          <th scope="col">Machine</th>
          <th scope="col">Person</th>
        </tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <StepRow
            key={row.step}
            row={row}
            hidden={isHidden(row, blind)}
            isOpen={row.step === step}
            onChoose={onChoose}
          />
        ))}
      </tbody>
    </table>
  );
}

function StepRow({
  row: { step, text, critical, mark, verdict },
  hidden,
  isOpen,
  onChoose,
}: {
  readonly row: Row;
  readonly hidden: boolean;
  readonly isOpen: boolean;
  readonly onChoose: (step: string) => void;
}) {
  const line = useRef<HTMLTableRowElement>(null);
  useEffect(() => {
    if (isOpen) line.current?.scrollIntoView({ block: 'nearest' });
  }, [isOpen]);
  return (
    <tr ref={line} className={isOpen ? 'open' : ''}>
      <th scope="row">
        <button type="button" aria-current={isOpen ? 'step' : undefined} onClick={() => onChoose(step)}>
          <StepText text={text} critical={critical} />
        </button>
      </th>
      <td>
        {hidden && 'hidden'}
        {!hidden && mark && (
          <>
            <Shape mark={mark.outcome} title="" /> {mark.outcome}
          </>
        )}
        {!mark && 'no such step in this version'}
      </td>
      <td>
        {verdict ? (
          <>
            <Shape mark={VERDICT_SHAPES[verdict.verdict]} title="" /> {VERDICTS[verdict.verdict]}
          </>
        ) : (
          'open'
        )}
      </td>
    </tr>
  );
}
