/** Where a page of people ends: everybody after this one, by name, comes on the next. */
interface Place {
  readonly name: string;
  readonly id: string;
}

/** Before everybody. */
const START: Place = { name: '', id: '00000000-0000-0000-0000-000000000000' };

const UUID_LENGTH = START.id.length;

/** What a reply says in `next`. */
export const pageFrom = (last: Place | undefined): string | null => (last ? `${last.id}${last.name}` : null);

/** The place that a request says in `after`; the start where it says none that could be one. */
export function pageAfter(after: string | undefined): Place {
  const id = after?.slice(0, UUID_LENGTH) ?? '';
  if (after === undefined || !/^[0-9a-f-]{36}$/.test(id)) return START;
  return { id, name: after.slice(UUID_LENGTH) };
}
