/** Figures as a table; the first cell of a row names it. */
export function Table({
  caption,
  isCaptionHidden = false,
  columns,
  rows,
}: {
  readonly caption: string;
  /** The caption is for screen readers alone: the figures' title stands above. */
  readonly isCaptionHidden?: boolean;
  readonly columns: readonly string[];
  readonly rows: readonly (readonly (string | number)[])[];
}) {
  return (
    <table>
      <caption className={isCaptionHidden ? 'visually-hidden' : undefined}>{caption}</caption>
      <thead>
        <tr>
          {columns.map((column) => (
            <th key={column} scope="col">
              {column}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map(([first, ...others], i) => (
          <tr key={i}>
            <th scope="row">{first}</th>
            {others.map((cell, n) => (
              <td key={n}>{cell}</td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  );
}
