import { Table } from './Table.tsx';

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
        <Table caption={title} isCaptionHidden columns={columns} rows={rows} />
      </details>
    </figure>
  );
}
