/** Moments as they are in the time of this machine. */

const two = (n: number): string => String(n).padStart(2, '0');

/** A moment with this machine's offset: `2026-11-24T08:10:00.000Z` is `2026-11-24T09:10:00+01:00` in Berlin. */
export function inLocalTime(iso: string): string {
  const at = new Date(iso);
  const offset = -at.getTimezoneOffset();
  const sign = offset < 0 ? '-' : '+';
  const shift = `${two(Math.floor(Math.abs(offset) / 60))}:${two(Math.abs(offset) % 60)}`;
  const time = [at.getHours(), at.getMinutes(), at.getSeconds()].map(two).join(':');
  return `${localDayOf(iso)}T${time}${sign}${shift}`;
}

/** The day of a moment, as `2026-03-09`. */
export function localDayOf(iso: string): string {
  const at = new Date(iso);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}
