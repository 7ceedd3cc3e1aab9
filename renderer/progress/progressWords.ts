/** The day of an ISO date, as this machine writes it: short enough to stand under a point. */
export const dayOf = (iso: string): string =>
  new Date(iso).toLocaleDateString(undefined, { day: 'numeric', month: 'short' });

/** "1 attempt", "3 attempts". */
export const times = (n: number, what: string): string => `${n} ${what}${n === 1 ? '' : 's'}`;
