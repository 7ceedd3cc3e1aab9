import type { Diagnostic } from '@codemirror/lint';
import type { EditorState, Text, TransactionSpec } from '@codemirror/state';
import type { Fault } from '../../../app/faults/faults.ts';

/** Places in a text, counted in characters from 0, as the text editor counts them. */

/** A stretch of a text; `to` is the first character after it. */
export interface Range {
  readonly from: number;
  readonly to: number;
}

/**
 * Where a fault is shown: from its column to the end of its line, without spaces at either end. A fault past the end
 * of its line marks the whole line, one past the last line the last line.
 *
 * @param fault its line and column count from 1
 */
export function rangeOf(doc: Text, fault: Pick<Fault, 'line' | 'column'>): Range {
  const line = doc.line(Math.min(Math.max(fault.line, 1), doc.lines));
  const end = line.from + line.text.trimEnd().length;
  const start = line.from + Math.max(fault.column, 1) - 1;
  const indent = line.text.length - line.text.trimStart().length;
  return { from: start < end ? start : Math.min(line.from + indent, end), to: end };
}

/** What the host found, as the text editor shows it. */
export function diagnosticsOf(
  doc: Text,
  { faults, warnings }: { readonly faults: readonly Fault[]; readonly warnings: readonly Fault[] },
): Diagnostic[] {
  const as =
    (severity: Diagnostic['severity']) =>
    (fault: Fault): Diagnostic => ({ ...rangeOf(doc, fault), severity, message: fault.message });
  return [...faults.map(as('error')), ...warnings.map(as('warning'))];
}

/** The smallest change that makes one text the other: what lies between their common beginning and end. */
export function smallestChange(before: string, after: string): Range & { readonly insert: string } {
  const most = Math.min(before.length, after.length);
  let head = 0;
  while (head < most && before[head] === after[head]) head += 1;
  let tail = 0;
  while (tail < most - head && before.at(-1 - tail) === after.at(-1 - tail)) tail += 1;
  return { from: head, to: before.length - tail, insert: after.slice(head, after.length - tail) };
}

/** Makes the text another one as if it were typed, so that what a form field sends letter by letter is undone at once. */
export const replacing = ({ doc }: EditorState, next: string): TransactionSpec => ({
  changes: smallestChange(doc.toString(), next),
  userEvent: 'input.type.form',
});
