import { Shape } from './Shape.tsx';

/** What something came to, at a glance, and below it what is to be said about the record itself. */
export function Verdict({
  good,
  text,
  remarks,
  children,
}: {
  readonly good: boolean;
  readonly text: string;
  readonly remarks: readonly string[];
  readonly children: React.ReactNode;
}) {
  return (
    <>
      <section className={`result result-${good ? 'passed' : 'not'}`} aria-label="Result">
        <Shape mark={good ? 'heard' : 'not heard'} title={text} />
        <div>
          <p className="result-title">{text}</p>
          {children}
        </div>
      </section>
      {remarks.map((remark) => (
        <p key={remark} className="notice">
          {remark}
        </p>
      ))}
    </>
  );
}
