import type { Random } from '../skills/random.ts';

/** Something that begins at a moment: a breath, a beat. */
export interface Moment {
  /** Seconds of the resident's time. Below 0 it began before the trainee came in. */
  readonly at: number;
}

/** A number from `from` up to and without `to`, each as likely as the others. */
export const between = (random: Random, [from, to]: readonly [number, number]): number =>
  from + (to - from) * random();

export const clamp = (value: number, from: number, to: number): number => Math.max(from, Math.min(to, value));

/**
 * A number that is near enough to a standard normal one: twelve numbers of 0 to 1 added up, less six (mean 0, standard deviation 1,
 * never past ±6). Only sums are used, since logarithms and sines may differ in the last digit from machine to machine, and the
 * same seed must give the same resident on all of them.
 */
export function normal(random: Random): number {
  let sum = -6;
  for (let i = 0; i < 12; i++) sum += random();
  return sum;
}

/**
 * A series of normal numbers (mean 0, standard deviation 1) in which each leans towards the one before: first-order
 * autoregression.
 *
 * @param lean correlation of neighbours, 0 up to and without 1
 */
export function correlated(random: Random, lean: number): () => number {
  const own = Math.sqrt(1 - lean * lean);
  let last = normal(random);
  return () => (last = lean * last + own * normal(random));
}

/** What began in [from, to): the one that begins just as the stretch does counts, the one just as it ends does not. */
export const beganWithin = <T extends Moment>(
  moments: readonly T[],
  from: number,
  to: number,
): readonly T[] => moments.filter(({ at }) => at >= from && at < to);

/** The last that began by `at`, or undefined before the first. `moments` in the order of time. */
export function lastBy<T extends Moment>(moments: readonly T[], at: number): T | undefined {
  let [low, high] = [0, moments.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    const reached = moments[middle]!; // within: low ≤ middle < high ≤ length
    if (reached.at <= at) low = middle + 1;
    else high = middle;
  }
  return moments[low - 1];
}
