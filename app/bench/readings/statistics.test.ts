import { describe, expect, it } from 'vitest';
import { compare, toleranceOf } from './reading.ts';
import { agreement, chiSquareTail, earlyStops, lastDigits, studentT } from './statistics.ts';

const STRICT = { tolerances: { 'breaths a minute': 2, kilograms: 0.9 } };

describe('a reading', () => {
  it('is held against the tolerance of the rules', () => {
    const verdicts = [14, 15, 16, 17, 18, 19].map(
      (recorded) => compare({ unit: 'breaths a minute', truth: 16, recorded, said: null }, STRICT).verdict,
    );
    expect(verdicts).toEqual(['within', 'within', 'within', 'within', 'within', 'outside']);
    expect(compare({ unit: 'breaths a minute', truth: 16, recorded: 13, said: 16 }, STRICT)).toMatchObject({
      verdict: 'outside',
      difference: -3,
      saidOther: true,
    });
    expect(compare({ unit: 'kilograms', truth: 70.3, recorded: 71.2, said: null }, STRICT).verdict).toBe(
      'within',
    );
  });

  it('is not judged where the rules name no tolerance, but for breaths: within 2 (common practice, no source)', () => {
    const none = { tolerances: {} };
    expect(toleranceOf(none, 'breaths a minute')).toBe(2);
    expect(toleranceOf({ tolerances: { 'breaths a minute': 4 } }, 'breaths a minute')).toBe(4);
    expect(compare({ unit: 'mmHg', truth: 120, recorded: 180, said: null }, none).verdict).toBe('not judged');
  });
});

describe('limits of agreement', () => {
  // First measurements of the worked example of Bland and Altman, Lancet 1986;i:307–310: peak flow in l/min of 17 people with a large and a
  // small meter. The data are as the R package blandr carries them; the results that the paper states are from memory.
  const LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
  const SMALL = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
  const differences = LARGE.map((large, i) => large - SMALL[i]!); // as many of each
  const found = agreement(differences, 2)!;

  it('are those of the published example', () => {
    expect(found.bias.value).toBeCloseTo(-2.1, 1);
    expect(found.spread).toBeCloseTo(38.8, 1);
    // −79.7 and 75.5 there, from −2.1 and 38.8 as rounded.
    expect(Math.abs(found.lower.value + 79.7)).toBeLessThan(0.1);
    expect(Math.abs(found.upper.value - 75.5)).toBeLessThan(0.1);
  });

  it('have the published confidence intervals', () => {
    // −22.0 to 17.8; −114.3 to −45.1; 40.9 to 110.1, worked there with rounded numbers.
    const near = ({ from, to }: { from: number; to: number }, wanted: readonly [number, number]): void => {
      expect(Math.abs(from - wanted[0])).toBeLessThan(0.2);
      expect(Math.abs(to - wanted[1])).toBeLessThan(0.2);
    };
    near(found.bias, [-22.0, 17.8]);
    near(found.lower, [-114.3, -45.1]);
    near(found.upper, [40.9, 110.1]);
  });

  it('are not given for two readings', () => {
    expect(agreement([1, 2])).toBeNull();
    expect(agreement([1, 1, 1])).toMatchObject({ spread: 0, bias: { value: 1, from: 1, to: 1 } });
  });

  it('rest on Student’s t as tables have it', () => {
    // 97.5 % points, any table (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2; from memory).
    const table = [12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228];
    table.forEach((t, i) => expect(studentT(i + 1)).toBeCloseTo(t, 3));
    expect(studentT(16)).toBeCloseTo(2.12, 3);
    expect(studentT(30)).toBeCloseTo(2.042, 3);
    expect(studentT(100)).toBeCloseTo(1.984, 3);
  });
});

describe('last digits', () => {
  it('test against chi-square as tables have it', () => {
    // 5 % points (NIST/SEMATECH e-Handbook, 1.3.6.7.4; from memory).
    const table = [3.841, 5.991, 7.815, 9.488, 11.07, 12.592, 14.067, 15.507, 16.919];
    table.forEach((value, i) => expect(chiSquareTail(value, i + 1)).toBeCloseTo(0.05, 4));
    expect(chiSquareTail(0, 4)).toBe(1);
    expect(chiSquareTail(27.877, 9)).toBeCloseTo(0.001, 4);
    for (const value of [100, 200, 1000, 1e5]) expect(chiSquareTail(value, 4)).toBeCloseTo(0, 9);
  });

  it('tell rounding to tens from none', () => {
    const even = Array.from({ length: 50 }, (_, i) => 100 + 2 * i);
    expect(lastDigits(even, 2)).toMatchObject({ n: 50, zeros: 0.2, expected: 0.2, chance: 1 });
    const rounded = even.map((value, i) => (i % 2 ? Math.round(value / 10) * 10 : value));
    const found = lastDigits(rounded, 2);
    expect(found.zeros).toBeGreaterThan(0.5);
    expect(found.chance).toBeLessThan(0.01);
  });

  it('say nothing of chance where there are too few', () => {
    expect(lastDigits([120, 130, 140, 110], 2)).toMatchObject({ zeros: 1, chance: null });
    expect(lastDigits([], 1)).toMatchObject({ n: 0, zeros: 0, chance: null });
  });
});

describe('early stops', () => {
  it('are counted, with what was missing', () => {
    const counts = [60, 59, 50, 30].map((seconds) => ({ from: 5, to: 5 + seconds }));
    expect(earlyStops(counts)).toEqual({ n: 4, early: 2, missing: 20 });
    expect(earlyStops([])).toEqual({ n: 0, early: 0, missing: 0 });
  });
});
