/** Rows of text as a table with aligned columns: the first to the left, the others to the right. */
export function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const all = [head, ...rows];
  const widths = head.map((_, c) => Math.max(...all.map((row) => (row[c] ?? '').length)));
  const format = (row: readonly string[]): string =>
    widths
      .map((width, c) => (c === 0 ? (row[c] ?? '').padEnd(width) : (row[c] ?? '').padStart(width)))
      .join('  ')
      .trimEnd();
  return [format(head), widths.map((w) => '-'.repeat(w)).join('  '), ...rows.map(format)].join('\n');
}

/** A ratio with three decimals, "–" where there is nothing to divide. */
export function ratio(x: number): string {
  return Number.isNaN(x) ? '–' : x.toFixed(3);
}

export function percent(x: number): string {
  return Number.isNaN(x) ? '–' : `${(100 * x).toFixed(1)} %`;
}

export function fixed(x: number, digits = 2): string {
  return Number.isFinite(x) ? x.toFixed(digits) : '–';
}
