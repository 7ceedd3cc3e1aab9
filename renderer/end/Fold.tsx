/** A part of the end that is opened when wanted, by a click or by Enter on its heading. In print all are open. */
export const Fold = ({
  title,
  children,
}: {
  readonly title: React.ReactNode;
  readonly children: React.ReactNode;
}) => (
  <details className="fold">
    <summary>{title}</summary>
    <div className="fold-body">{children}</div>
  </details>
);
