import { performance } from 'node:perf_hooks';

/** Milliseconds that something took. */
export async function timed(work: () => Promise<unknown>): Promise<number> {
  const began = performance.now();
  await work();
  return performance.now() - began;
}

/** The value that a share of all lie at or below. */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)] ?? NaN;
}

/** "p50 12 ms, p95 30 ms, most 41 ms (n = 300)" */
export const spread = (values: readonly number[]): string =>
  `p50 ${ms(quantile(values, 0.5))}, p95 ${ms(quantile(values, 0.95))}, most ${ms(quantile(values, 1))} (n = ${values.length})`;

const ms = (value: number): string => `${value < 10 ? value.toFixed(1) : Math.round(value)} ms`;
