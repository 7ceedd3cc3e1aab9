import type { Outcome } from '../marking/assessment.ts';

/** The sign of each outcome; its word always stands beside it. */
export const SIGNS: Readonly<Record<Outcome, string>> = {
  heard: '✓',
  'out of order': '↕',
  unsure: '?',
  'not heard': '✗',
  'needs eyes': '○',
};

/** A person's verdict in words. */
export const VERDICTS = { yes: 'yes', no: 'no', unsure: 'cannot tell' } as const;

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** Day and time of a moment as it is written there, in its own place's time: `2026-11-24T09:10:00.000+01:00` is "24 Nov 2026, 09:10". */
export function momentSays(iso: string): string {
  const [, year = '', month = '', day = '', time = ''] = /^(\d+)-(\d+)-(\d+)T(\d+:\d+)/.exec(iso) ?? [];
  return `${Number(day)} ${MONTHS[Number(month) - 1] ?? ''} ${year}, ${time}`;
}

/** "1 step", "2 steps". */
export const counted = (count: number, one: string, many = `${one}s`): string =>
  `${count} ${count === 1 ? one : many}`;

/** A share as a whole percentage: 0.638 is "64 %". */
export const percent = (share: number): string => `${Math.round(share * 100)} %`;
