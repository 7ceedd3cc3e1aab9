/** What a cell of a table may hold. Null is an empty cell. */
export type Cell = string | number | boolean | null;

/**
 * A table as CSV (RFC 4180): lines end in CRLF, and what holds a comma, a quote or a line break stands in quotes. Before it stands the
 * mark (U+FEFF) by which spreadsheets know UTF-8.
 */
export const csvOf = (columns: readonly string[], rows: readonly (readonly Cell[])[]): string =>
  `\uFEFF${[columns, ...rows].map((row) => `${row.map(written).join(',')}\r\n`).join('')}`;

function written(cell: Cell): string {
  if (typeof cell === 'number') return String(cell);
  const text = harmless(cellText(cell));
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

function cellText(cell: string | boolean | null): string {
  if (typeof cell === 'boolean') return cell ? 'yes' : 'no';
  return cell ?? '';
}

/** A spreadsheet computes what begins like a formula: an apostrophe in front makes it text. */
const harmless = (text: string): string => (/^[=+\-@\t\r\n]/.test(text) ? `'${text}` : text);
