import { useEffect, useRef } from 'react';
import type { Outcome } from '../../app/marking/assessment.ts';
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
  const list = useRef<HTMLDivElement>(null);
  useEffect(() => {
    // The list alone moves: the page stays where the reviewer looks.
    const line = list.current?.querySelector<HTMLElement>('tr.open');
    if (line && list.current) list.current.scrollTop = line.offsetTop - list.current.clientHeight / 3;
  }, [step]);
  return (
    <div className="side-by-side" ref={list} tabIndex={0} role="region" aria-label="Steps">
      <table>
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
    </div>
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
  return (
    <tr className={isOpen ? 'open' : ''}>
      <th scope="row">
        <button type="button" aria-current={isOpen ? 'step' : undefined} onClick={() => onChoose(step)}>
          <StepText text={text} critical={critical} />
        </button>
      </th>
      <td>
        {hidden && 'hidden'}
        {!hidden && mark && (
          <>
            <Sign mark={mark.outcome} /> {mark.outcome}
          </>
        )}
        {!mark && 'no such step in this version'}
      </td>
      <td>
        {verdict ? (
          <>
            <Sign mark={VERDICT_SHAPES[verdict.verdict]} /> {VERDICTS[verdict.verdict]}
          </>
        ) : (
          'open'
        )}
      </td>
    </tr>
  );
}

/** A mark's shape beside its own words: for the eye alone. */
const Sign = ({ mark }: { readonly mark: Outcome }) => (
  <span aria-hidden="true">
    <Shape mark={mark} />
  </span>
);
