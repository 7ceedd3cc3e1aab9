import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { beat, beatsAMinute, PULSE_PATTERNS, RHYTHMS, wristAt, type Pulse } from './pulse.ts';
import { compare, remarkOn } from './readings/reading.ts';

const residents = (pattern: Pulse['pattern'], count: number, seconds: number): Pulse[] =>
  Array.from({ length: count }, (_, seed) => beat(seed, pattern, seconds));
const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
const steps = (values: readonly number[]): number[] => values.slice(1).map((v, i) => v - values[i]!); // one before each
const deviation = (values: readonly number[]): number => {
  const middle = mean(values);
  return Math.sqrt(mean(values.map((v) => (v - middle) ** 2)));
};

describe('a pulse', () => {
  it('is the same for the same seed', () => {
    expect(beat(3, 'irregular', 60)).toEqual(beat(3, 'irregular', 60));
  });

  it('counts what began in the stretch; half a minute is doubled', () => {
    fc.assert(
      fc.property(
        fc.integer(),
        fc.constantFrom(...PULSE_PATTERNS),
        fc.double({ min: 0, max: 60, noNaN: true }),
        fc.constantFrom(60 as const, 30 as const),
        (seed, pattern, start, seconds) => {
          const pulse = beat(seed, pattern, 130);
          let counted = 0;
          for (const { at } of pulse.beats) if (at >= start && at < start + seconds) counted++;
          expect(beatsAMinute(pulse, start, seconds)).toBe(seconds === 30 ? counted * 2 : counted);
        },
      ),
    );
  });

  it.each(PULSE_PATTERNS)('of 10,000 residents keeps to the rates of its kind: %s', (pattern) => {
    const { rate, spread } = RHYTHMS[pattern];
    const drawn = residents(pattern, 5_000, 120);
    // What one minute may differ by chance: a rhythm whose beats lean on each other drifts further.
    const drift = spread[1] * Math.sqrt(60 * (pattern === 'regular' ? 5 : 1)) * 4.5 + 1;
    const wrong = drawn.filter(
      (each) =>
        each.rate < rate[0] || each.rate >= rate[1] || Math.abs(beatsAMinute(each, 30) - each.rate) >= drift,
    );
    expect(wrong).toEqual([]);
    expect(Math.abs(mean(drawn.map((each) => beatsAMinute(each, 30) - each.rate)))).toBeLessThan(0.15);
  });

  it('lifts the fingers once for each beat', () => {
    for (const pattern of PULSE_PATTERNS)
      for (const pulse of residents(pattern, 300, 70)) {
        let lifts = 0;
        for (let i = 500; i < 6500; i++)
          if (wristAt(pulse, i / 100) <= 0.02 && wristAt(pulse, (i + 1) / 100) > 0.02) lifts++;
        // A beat within a hundredth of a second of the edge may be seen on the other side.
        expect(Math.abs(lifts - beatsAMinute(pulse, 5))).toBeLessThanOrEqual(1);
      }
  });

  it('varies as a regular one does', () => {
    // Nunan, Sandercock, Brodie, PACE 2010;33:1407–1417 (from memory): SDNN 50 ms of 926 ms, range 32–93; RMSSD 42 ms. At rest, in youth.
    for (const { beats } of residents('regular', 200, 1500)) {
      const intervals = steps(beats.map(({ at }) => at));
      const spread = deviation(intervals);
      expect(spread / mean(intervals)).toBeLessThan(93 / 926);
      const successive = Math.sqrt(mean(steps(intervals).map((d) => d * d)));
      expect(successive / spread).toBeGreaterThan(0.85 * (42 / 50));
      expect(successive / spread).toBeLessThan(1.15 * (42 / 50));
    }
  });

  it('needs a full minute when it is irregular: half a minute is wrong far more often', () => {
    const wrong = (pattern: Pulse['pattern']): number =>
      mean(
        residents(pattern, 2_000, 100).map((pulse) => {
          const [truth, recorded] = [beatsAMinute(pulse, 10), beatsAMinute(pulse, 10, 30)];
          const found = compare(
            { unit: 'beats a minute', truth, recorded, said: null },
            // As the strict rules have it.
            { tolerances: { 'beats a minute': 4 } },
          );
          return found.verdict === 'outside' ? 1 : 0;
        }),
      );
    expect(wrong('regular')).toBeLessThan(0.08);
    expect(wrong('irregular')).toBeGreaterThan(2 * wrong('regular'));
  });
});

describe('the length of a count', () => {
  const regular = { mayHalve: true, pattern: 'regular' } as const;
  it.each([
    [60, regular, null],
    [61.4, regular, null],
    [30, regular, null],
    [30, { ...regular, mayHalve: false }, 'half a minute is not allowed'],
    [30, { ...regular, pattern: 'irregular' }, 'irregular needs a full minute'],
    [30, { ...regular, pattern: 'breaths' }, 'stopped early'],
    [15, regular, 'stopped early'],
    [58, regular, 'stopped early'],
    [63, regular, 'ran on'],
  ] as const)('%f s', (seconds, counting, remark) => {
    expect(remarkOn({ from: 4, to: 4 + seconds }, counting)).toBe(remark);
  });
});
