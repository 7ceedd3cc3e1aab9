import type { Trouble } from '../room/troubles.ts';

/** Everything that is wrong, each with what to do; nothing when all is well. */
export function Banners({
  troubles,
  children,
}: {
  readonly troubles: readonly Trouble[];
  readonly children?: React.ReactNode;
}) {
  return (
    <div className="banners" role="alert">
      {troubles.map(({ kind, title, text }) => (
        <div key={kind} className="banner">
          <svg className="banner-sign" viewBox="0 0 32 32" aria-hidden="true">
            <path d="M16 3l14 26H2z" />
            <path className="line" d="M16 12v8M16 24v.5" />
          </svg>
          <p>
            <strong>{title}</strong> {text}
          </p>
        </div>
      ))}
      {troubles.length > 0 && children}
    </div>
  );
}
