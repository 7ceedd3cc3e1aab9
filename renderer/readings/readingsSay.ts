import { isRounded, type ReadingStatistics } from '../../app/progress/readings.ts';
import { differenceSays, figure } from '../bench/words.ts';
import { percent } from '../words.ts';

/** What the statistics of somebody's readings say, in sentences. */

/** Readings from which the limits of agreement are more than a rough idea. */
const ENOUGH = 20;

/** How the readings lie about the truth, whether they are rounded, whether counts were stopped early. */
export const readingsSay = (statistics: ReadingStatistics): string[] =>
  [agreementSays(statistics), roundingSays(statistics), earlySays(statistics)].filter(
    (text) => text !== null,
  );

function agreementSays({ agreement, readings, unit }: ReadingStatistics): string {
  if (!agreement)
    return `Read ${readings.length === 1 ? 'once' : 'twice'} so far; three times are needed to compare.`;
  const { n, bias, lower, upper } = agreement;
  const bounds = `${tenths(lower.value)} to ${tenths(upper.value)} ${unit}`;
  return (
    `${n} readings, on average ${differenceSays(round(bias.value))} (between ${tenths(bias.from)} and ${tenths(bias.to)} with 95 % confidence). ` +
    `Most of them lie within ${bounds} of the truth (limits of agreement, Bland and Altman)` +
    (n < ENOUGH ? '; with so few readings that is only a rough idea.' : '.')
  );
}

const round = (value: number): number => Math.round(value * 10) / 10;
export const tenths = (value: number): string => figure(round(value));

function roundingSays(statistics: ReadingStatistics): string | null {
  const { digits } = statistics;
  if (!digits || !isRounded(statistics)) return null;
  const { n, zeros, expected } = digits;
  return `${percent(zeros)} of ${n} numbers end in 0, where ${percent(expected)} would be expected: you may be rounding to tens (chi-square test).`;
}

function earlySays({ early: { n, early, missing } }: ReadingStatistics): string | null {
  return early === 0
    ? null
    : `${early} of ${n} counts were stopped early, by ${tenths(missing)} s on average.`;
}
