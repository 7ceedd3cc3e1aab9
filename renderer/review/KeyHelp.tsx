import { fewestKeys } from '../../app/review/desk.ts';
import { ACTIONS, KEYS } from '../../app/review/keys.ts';
import { openRows, type Row } from '../../app/review/sideBySide.ts';

/** The keys of the review, and how many it takes. */
export function KeyHelp({ rows, keys }: { readonly rows: readonly Row[]; readonly keys: number }) {
  const open = openRows(rows).length;
  return (
    <details className="key-help">
      <summary>Keys</summary>
      <dl>
        {ACTIONS.map((action) => (
          <div key={action}>
            <dt>
              <kbd>{KEYS[action].shown}</kbd>
            </dt>
            <dd>{KEYS[action].says}</dd>
          </div>
        ))}
      </dl>
      <p>
        {keys} keys pressed so far. {open} steps are open: {fewestKeys(rows)} keys at least, one a verdict and
        one to sign off.
      </p>
    </details>
  );
}
