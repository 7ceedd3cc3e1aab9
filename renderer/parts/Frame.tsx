import { Link, useLocation } from 'wouter';
import { ADDRESS, AREAS } from '../addresses.ts';

/** The frame of every screen but the room: the way to each area, and the screen itself. */
export function Frame({ children }: { readonly children: React.ReactNode }) {
  const [path] = useLocation();
  return (
    <div className="frame">
      <nav className="areas" aria-label="Areas">
        <p className="wordmark" aria-hidden="true">
          Sinkside
        </p>
        <ul>
          {AREAS.map(({ name, to, within, sign }) => (
            <li key={name}>
              <Link href={to} className="area" aria-current={isWithin(path, to, within) ? 'page' : undefined}>
                <svg viewBox="0 0 24 24" aria-hidden="true">
                  <path d={sign} />
                </svg>
                {name}
              </Link>
            </li>
          ))}
        </ul>
      </nav>
      <div className="frame-screen">{children}</div>
    </div>
  );
}

const isWithin = (path: string, to: string, within: readonly string[]): boolean =>
  path === to ||
  [...within, ...(to === ADDRESS.home ? [] : [to])].some((area) => `${path}/`.startsWith(`${area}/`));
