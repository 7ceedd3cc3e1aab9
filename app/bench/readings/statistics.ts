import { STOP_GRACE, type Stretch } from './reading.ts';

/** A value with its 95 % confidence interval. */
export interface Estimate {
  readonly value: number;
  readonly from: number;
  readonly to: number;
}

export interface Agreement {
  readonly n: number;
  /** Mean of the differences: how much too high (too low: negative) the readings are as a rule. */
  readonly bias: Estimate;
  /** Standard deviation of the differences. */
  readonly spread: number;
  /** Limits of agreement: about 95 of 100 differences are to be expected between them. */
  readonly lower: Estimate;
  readonly upper: Estimate;
}

/**
 * Bias and limits of agreement with confidence intervals: Bland and Altman, Lancet 1986;i:307–310. The limits are the bias ± `width`
 * standard deviations; their standard error is √(3 s² / n); intervals by Student's t of n − 1 degrees of freedom.
 *
 * @param differences reading less truth, each of another measurement
 * @param width 1.96, as the authors write in 1999; their worked example of 1986 has 2
 * @returns null for fewer than three
 */
export function agreement(differences: readonly number[], width = 1.96): Agreement | null {
  const n = differences.length;
  if (n < 3) return null;
  const mean = differences.reduce((sum, d) => sum + d, 0) / n;
  const spread = Math.sqrt(differences.reduce((sum, d) => sum + (d - mean) ** 2, 0) / (n - 1));
  const t = studentT(n - 1);
  const around = (value: number, error: number): Estimate => ({
    value,
    from: value - t * error,
    to: value + t * error,
  });
  const limitError = Math.sqrt(3 / n) * spread;
  return {
    n,
    bias: around(mean, spread / Math.sqrt(n)),
    spread,
    lower: around(mean - width * spread, limitError),
    upper: around(mean + width * spread, limitError),
  };
}

/**
 * What Student's t of `freedom` degrees exceeds, either way, in 5 of 100 cases: found by halving on the probability of
 * Abramowitz and Stegun, 26.7.3 and 26.7.4.
 */
export function studentT(freedom: number): number {
  let [low, high] = [0, 13];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (withinT(middle, freedom) < 0.95) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** How likely |t| is at most this. */
function withinT(t: number, freedom: number): number {
  const angle = Math.atan(t / Math.sqrt(freedom));
  const cosine = Math.cos(angle);
  const odd = freedom % 2;
  let term = odd ? cosine : 1;
  let series = freedom === 1 ? 0 : term;
  for (let k = odd + 2; k < freedom; k += 2) {
    term *= (cosine * cosine * (k - 1)) / k;
    series += term;
  }
  const part = Math.sin(angle) * series;
  return odd ? (2 / Math.PI) * (angle + part) : part;
}

export interface LastDigits {
  readonly n: number;
  /** How many readings end in each of the digits that were possible. */
  readonly counts: ReadonlyMap<number, number>;
  /** Share that ends in 0, and what it would be if no digit were preferred. */
  readonly zeros: number;
  readonly expected: number;
  /**
   * How likely digits so uneven are by chance, if none is preferred: Pearson's chi-square test of goodness of fit. Null where it
   * may not be used, with fewer than five readings to be expected of each digit (Cochran's rule of thumb).
   */
  readonly chance: number | null;
}

/**
 * Whether readings are rounded to tens.
 *
 * @param readings whole numbers
 * @param step 2 for a gauge with a mark every 2 mmHg, where only 0, 2, 4, 6 and 8 can come; 1 for counts
 */
export function lastDigits(readings: readonly number[], step: 1 | 2): LastDigits {
  const digits = Array.from({ length: 10 / step }, (_, i) => i * step);
  const counts = new Map(digits.map((d) => [d, readings.filter((r) => r % 10 === d).length]));
  const n = [...counts.values()].reduce((sum, count) => sum + count, 0);
  const each = n / digits.length;
  const statistic = [...counts.values()].reduce((sum, count) => sum + (count - each) ** 2 / each, 0);
  return {
    n,
    counts,
    zeros: n === 0 ? 0 : (counts.get(0) ?? 0) / n,
    expected: 1 / digits.length,
    chance: each < 5 ? null : chiSquareTail(statistic, digits.length - 1),
  };
}

/**
 * How likely a chi-square variable of `freedom` degrees is at least `value`: one less the series of the incomplete gamma function
 * (Abramowitz and Stegun, 6.5.29), P(a, x) = xᵃ e⁻ˣ / Γ(a + 1) · (1 + x / (a + 1) + x² / ((a + 1)(a + 2)) + …).
 */
export function chiSquareTail(value: number, freedom: number): number {
  const [a, x] = [freedom / 2, value / 2];
  // Beyond this e⁻ˣ is no number any more, and nothing is left of the tail.
  if (x > 700) return 0;
  let gamma = freedom % 2 ? Math.sqrt(Math.PI) : 1;
  for (let k = freedom % 2 ? 0.5 : 1; k <= a; k++) gamma *= k;
  let term = (x ** a * Math.exp(-x)) / gamma;
  let below = 0;
  // The terms grow as long as k is below x.
  for (let k = 1; term > 1e-15 || k <= x; k++) {
    below += term;
    term *= x / (a + k);
  }
  return Math.max(0, 1 - below);
}

export interface EarlyStops {
  readonly n: number;
  readonly early: number;
  /** Seconds missing from a count that was stopped early, on average; 0 where none was. */
  readonly missing: number;
}

/** How many counts were stopped before their time was over, and by how much. `needed` in seconds. */
export function earlyStops(counts: readonly Stretch[], needed = 60): EarlyStops {
  const missing = counts.map(({ from, to }) => needed - (to - from)).filter((left) => left > STOP_GRACE);
  return {
    n: counts.length,
    early: missing.length,
    missing: missing.length === 0 ? 0 : missing.reduce((sum, left) => sum + left, 0) / missing.length,
  };
}
