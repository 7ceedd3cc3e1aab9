/** Day and time of an ISO date, as this machine writes them. */
export const localDate = (iso: string): string =>
  new Date(iso).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' });

/** The day alone. */
export const localDay = (iso: string): string =>
  new Date(iso).toLocaleDateString(undefined, { dateStyle: 'medium' });

/** A share as a whole percentage: 0.638 → "64 %". */
export const percent = (share: number): string => `${Math.round(share * 100)} %`;

/** A level in whole decibels, with a minus sign proper: −59.3 → "−59 dB". */
export const decibels = (level: number): string => `${Math.round(level)} dB`.replace('-', '−');

/** Bytes in whole megabytes. */
export const megabytes = (bytes: number): string => `${Math.round(bytes / 1e6)} MB`;
