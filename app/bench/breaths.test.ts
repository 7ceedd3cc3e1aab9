import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BREATH_PATTERNS, breathe, breathsInMinute, chestAt, MANNERS, type Breathing } from './breaths.ts';

const SEEDS = 10_000;
const residents = (pattern: Breathing['pattern'], count: number, seconds = 130): Breathing[] =>
  Array.from({ length: count }, (_, seed) => breathe(seed, pattern, seconds));

const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;

/** How often the chest begins to rise in [from, to), as somebody watching 25 pictures a second sees it. */
function watched(breathing: Breathing, from: number, to: number): number {
  let rises = 0;
  let [before, now] = [chestAt(breathing, from - 1 / 25), chestAt(breathing, from)];
  for (let i = Math.round(from * 25) + 1; i <= Math.round(to * 25); i++) {
    const next = chestAt(breathing, i / 25);
    if (now <= before && next > now) rises++;
    [before, now] = [now, next];
  }
  return rises;
}

describe('breathing', () => {
  it('is the same for the same seed', () => {
    expect(breathe(7, 'irregular', 90)).toEqual(breathe(7, 'irregular', 90));
    expect(new Set(residents('even', 200).map(({ rate }) => rate)).size).toBe(200);
  });

  it('counts what began in the minute, no more and no less', () => {
    fc.assert(
      fc.property(
        fc.integer(),
        fc.constantFrom(...BREATH_PATTERNS),
        fc.double({ min: 0, max: 240, noNaN: true }),
        (seed, pattern, start) => {
          const breathing = breathe(seed, pattern, 320);
          let counted = 0;
          for (const { at } of breathing.breaths) if (at >= start && at < start + 60) counted++;
          expect(breathsInMinute(breathing, start)).toBe(counted);
          expect(breathsInMinute(breathing, start + 1e-9) - counted).toBeGreaterThanOrEqual(-1);
        },
      ),
    );
  });

  it.each(BREATH_PATTERNS)('draws what it counts, in all of 10,000 minutes: %s', (pattern) => {
    // 2,000 of each of the five patterns. A breath that begins within a picture of the minute's edge may be seen on the other side.
    const wrong = residents(pattern, SEEDS / BREATH_PATTERNS.length, 75).filter((breathing) => {
      const atEdge = breathing.breaths.filter(
        ({ at }) => Math.min(Math.abs(at - 5), Math.abs(at - 65)) <= 0.04,
      );
      return Math.abs(watched(breathing, 5, 65) - breathsInMinute(breathing, 5)) > atEdge.length;
    });
    expect(wrong).toEqual([]);
  });

  it('never begins a breath while the one before is being drawn, and always shows it', () => {
    const wrong = BREATH_PATTERNS.flatMap((pattern) => residents(pattern, 500)).filter(({ breaths }) =>
      breaths.slice(1).some(({ at }, i) => {
        const { at: from, rise, fall, depth } = breaths[i]!; // slice(1) has one before each
        return at < from + rise + fall || rise < 0.2 || depth < 0.08;
      }),
    );
    expect(wrong).toEqual([]);
  });

  it.each(['even', 'slow', 'fast', 'irregular'] as const)('keeps to the rates of its kind: %s', (pattern) => {
    const [least, most] = MANNERS[pattern].rate;
    const drawn = residents(pattern, SEEDS / 4, 300);
    expect(drawn.filter(({ rate }) => rate < least || rate >= most)).toEqual([]);
    // Even over the whole range, and in the long run as fast as is said.
    expect(mean(drawn.map(({ rate }) => rate))).toBeCloseTo((least + most) / 2, 0);
    const off = drawn.map(({ rate, breaths }) => breaths.filter(({ at }) => at >= 0).length / 5 / rate - 1);
    expect(Math.abs(mean(off))).toBeLessThan(0.005);
    expect(Math.max(...off.map(Math.abs))).toBeLessThan(0.3);
  });

  it('at rest lies between 12 and 20 a minute (common practice, no source)', () => {
    expect(MANNERS.even.rate).toEqual([12, 20]);
    expect(MANNERS.slow.rate[1]).toBeLessThan(12);
    expect(MANNERS.fast.rate[0]).toBeGreaterThan(20);
  });

  it('varies as much as resting people do', () => {
    // Tobin et al., J Appl Physiol 1988;65:309–317: coefficient of variation of the rate 20.8 ± 11.5 %, of the depth 33 ± 14.9 %.
    // Tobin et al., Am J Respir Crit Care Med 1995;152:1967–1976: lag-1 autocorrelation of the depth 0.295 ± 0.148.
    for (const { breaths } of residents('even', 300, 3000)) {
      const intervals = breaths.slice(1).map(({ at }, i) => at - breaths[i]!.at); // one before each
      const spread = spreadOf(intervals);
      expect(spread).toBeGreaterThan(0.208 - 0.15);
      expect(spread).toBeLessThan(0.208 + 0.115);
      const depths = breaths.map(({ depth }) => depth);
      expect(Math.abs(spreadOf(depths) - 0.33)).toBeLessThan(0.149);
      expect(Math.abs(neighbours(depths) - 0.295)).toBeLessThan(0.2);
    }
  });

  it('comes in groups with long pauses where it is periodic', () => {
    // Scoring of Cheyne–Stokes breathing: pauses of at least 10 s, cycles of at least 40 s (AASM manual, from memory).
    for (const { breaths } of residents('periodic', 500, 600)) {
      const ends = breaths.filter(({ at }, i) => (breaths[i + 1]?.at ?? at) - at > 10).map(({ at }) => at);
      expect(ends.length).toBeGreaterThan(5);
      ends.slice(1).forEach((at, i) => expect(at - ends[i]!).toBeGreaterThanOrEqual(40)); // one before each
    }
  });
});

function spreadOf(values: readonly number[]): number {
  const middle = mean(values);
  return Math.sqrt(mean(values.map((v) => (v - middle) ** 2))) / middle;
}

function neighbours(values: readonly number[]): number {
  const middle = mean(values);
  const products = values.slice(1).map((v, i) => (v - middle) * (values[i]! - middle)); // one before each
  return mean(products) / mean(values.map((v) => (v - middle) ** 2));
}
