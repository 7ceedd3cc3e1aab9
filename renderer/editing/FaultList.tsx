import type { Fault } from '../../app/faults/faults.ts';

/** Faults or warnings with their places; each leads to its line where the text is at hand. */
export function FaultList({
  faults,
  onLine,
}: {
  readonly faults: readonly Fault[];
  readonly onLine?: (line: number) => void;
}) {
  return (
    <ul className="faults">
      {faults.map((fault, i) => (
        <li key={i}>
          {onLine ? (
            <button type="button" className="link" onClick={() => onLine(fault.line)}>
              Line {fault.line}
            </button>
          ) : (
            <strong>
              {fault.file}, line {fault.line}
            </strong>
          )}
          {fault.field !== '' && <code>{fault.field}</code>} {fault.message}
        </li>
      ))}
    </ul>
  );
}
