import { capitalised } from '../language/words.ts';
import type { RecallTable } from './recallTable.ts';

/** The share of steps that will be heard, 0–1, somewhere from `least` to `most`; null where it was not measured. */
export type Expected = { readonly least: number; readonly most: number } | null;

/**
 * What a measured table says of a voice that stands `snr` dB over the tap: between two rows the straight line; above the last row something
 * between it and quiet; below the first row nothing was measured.
 */
export function expectedAt({ quiet, besideTap }: RecallTable, snr: number): Expected {
  const high = besideTap.find((row) => row.snr >= snr);
  const low = besideTap.findLast((row) => row.snr < snr);
  if (!high) {
    const highest = low?.recall ?? quiet;
    return { least: Math.min(highest, quiet), most: Math.max(highest, quiet) };
  }
  if (high.snr === snr) return { least: high.recall, most: high.recall };
  if (!low) return null;
  const share = (snr - low.snr) / (high.snr - low.snr);
  const recall = low.recall + share * (high.recall - low.recall);
  return { least: recall, most: recall };
}

/**
 * Share of the steps that must be heard for a tap to be no trouble, 0–1. Chosen by what the first table held (0.90 in quiet, 0.81 at 10 dB): much
 * higher, and every tap that was measured is too loud; much lower, and a step in four is lost beside a tap that is called comfortable.
 */
const COMFORTABLE = 0.8;

/**
 * From how many dB on a tap is no trouble: the lowest level from which on at least {@link COMFORTABLE} is heard, by straight lines between the
 * rows. Null where no row reaches that.
 */
export function comfortableFrom({ besideTap }: RecallTable): number | null {
  const last = besideTap.findLastIndex(({ recall }) => recall < COMFORTABLE);
  const enough = besideTap[last + 1];
  const short = besideTap[last];
  if (!enough || !short) return enough?.snr ?? null;
  const share = (COMFORTABLE - short.recall) / (enough.recall - short.recall);
  return short.snr + share * (enough.snr - short.snr);
}

/** How much half the distance to the mouth gains, dB: sound from a small source falls by 6 dB as the distance doubles (inverse square law). */
const HALF_AS_FAR = 6;

/**
 * What to expect, in a sentence or two for the trainee: "About 8 of 10 steps will be heard. Half as far from your mouth, or as a clip-on
 * microphone: about 9 of 10."
 *
 * @param table of what will listen; null where it was not measured
 * @param snr by how many dB the voice stands over the tap
 */
export function describeExpectation(table: RecallTable | null, snr: number): string {
  if (!table) return 'How much this speech model hears beside a tap has not been measured.';
  // In whole decibels, as it is told: 9.7 dB is not off the table where 10 dB is its end.
  const whole = Math.round(snr);
  const now = expectedAt(table, whole);
  const nearer = expectedAt(table, whole + HALF_AS_FAR);
  const first = now
    ? `${capitalised(stepsOf(now))} steps will be heard.`
    : 'How much is heard beside a tap as loud as this has not been measured.';
  if (!nearer || (now && nearer.most <= now.most)) return first;
  return `${first} With the microphone half as far from your mouth, or clipped on: ${stepsOf(nearer)}.`;
}

/** "about 8 of 10", "about 8 to 9 of 10", "about 9 of 10 or more", "more than 9 of 10". */
export function stepsOf({ least, most }: NonNullable<Expected>): string {
  const [low, high] = [tenths(least), tenths(most)];
  if (low === MORE_THAN_NINE) return 'more than 9 of 10';
  if (high === MORE_THAN_NINE) return `about ${low} of 10 or more`;
  return low === high ? `about ${low} of 10` : `about ${low} to ${high} of 10`;
}

/** Nothing is ever heard whole: what rounds to ten of ten is more than nine. */
const MORE_THAN_NINE = 10;
const tenths = (share: number): number => Math.round(10 * share);

/** Words for a distance, from so many whole dB on. Ten decibels are about twice as loud. Nothing is decided by them. */
const DISTANCES = [
  [20, 'far louder than'],
  [10, 'clearly louder than'],
  [5, 'a little louder than'],
  [0, 'hardly louder than'],
] as const;

/** A distance between a voice and what sounds beside it in words, with its dB: "a little louder than the tap (7 dB)". */
export function describeDistance(snr: number, what = 'the tap'): string {
  const whole = Math.round(snr);
  const [, words] = DISTANCES.find(([from]) => whole >= from) ?? [whole, 'softer than'];
  return `${words} ${what} (${`${whole} dB`.replace('-', '−')})`;
}
