/** A picture of figures with its words: a caption, and the same figures as a table for who reads rather than looks. */
export function Chart({
  title,
  says,
  columns,
  rows,
  children,
}: {
  readonly title: string;
  /** What the picture shows, in a sentence. */
  readonly says: string;
  readonly columns: readonly string[];
  readonly rows: readonly (readonly string[])[];
  /** The drawing. */
  readonly children: React.ReactNode;
}) {
  return (
    <figure className="time-chart">
      <figcaption>
        <strong>{title}</strong> {says}
      </figcaption>
      {children}
      <details>
        <summary>As a table</summary>
        <table>
          <caption className="visually-hidden">{title}</caption>
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
      </details>
    </figure>
  );
}
