/** Figures as they are measured, each printed beside the most it may be. */
export class Figures {
  /** How many were more than they may be. */
  missed = 0;

  /** @param most what it may be at the most; null where nothing was promised */
  add(what: string, value: number, unit: string, most: number | null = null): void {
    const isMissed = most !== null && value > most;
    if (isMissed) this.missed++;
    const target = most === null ? '' : `  (at most ${most} ${unit}: ${isMissed ? 'MISSED' : 'reached'})`;
    console.log(`${what.padEnd(66)} ${value.toFixed(value < 10 ? 2 : 0).padStart(8)} ${unit}${target}`);
  }
}

/** The value in the middle of some. */
export const middle = (values: readonly number[]): number =>
  [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;

/** How long some work takes, ms. */
export async function timed(work: () => Promise<unknown>): Promise<number> {
  const before = performance.now();
  await work();
  return performance.now() - before;
}
