import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cohensKappa, type Confusion } from './kappa.ts';

const transposed = (m: Confusion): number[][] => m.map((_, i) => m.map((row) => row[i] ?? 0));
const matrices = fc
  .integer({ min: 2, max: 4 })
  .chain((k) =>
    fc.array(fc.array(fc.nat(50), { minLength: k, maxLength: k }), { minLength: k, maxLength: k }),
  );

describe("Cohen's kappa", () => {
  // J. Fleiss, B. Levin, M. Paik, Statistical Methods for Rates and Proportions, 3rd ed., chapter 18, table 18.1: two raters, 100
  // patients, three diagnoses; kappa 0.68, interval 0.51 to 0.85. Table and figures from memory; the digits beyond by
  // statsmodels 0.15.0, cohens_kappa.
  it('comes out as in the textbook of Fleiss, Levin and Paik', () => {
    const { observed, kappa, standardError, interval } = cohensKappa([
      [75, 1, 4],
      [5, 4, 1],
      [0, 0, 10],
    ]);
    expect(observed).toBeCloseTo(0.89, 12);
    expect(kappa).toBeCloseTo(0.6764705882, 9);
    expect(standardError).toBeCloseTo(0.0877029535, 9);
    expect(interval?.[0]).toBeCloseTo(0.50458, 5);
    expect(interval?.[1]).toBeCloseTo(0.84837, 5);
  });

  // D. Bonett's R package statpsych, the example of ci.kappa in its published manual: 31, 12, 4, 58 give kappa 0.6756757, standard error
  // 0.07344761, 0.5317210 to 0.8196303. statsmodels 0.15.0 gives the same.
  it('comes out as in the manual of statpsych', () => {
    const { kappa, standardError, interval } = cohensKappa([
      [31, 12],
      [4, 58],
    ]);
    expect(kappa).toBeCloseTo(0.6756757, 7);
    expect(standardError).toBeCloseTo(0.07344761, 7);
    expect(interval?.[0]).toBeCloseTo(0.531721, 6);
    expect(interval?.[1]).toBeCloseTo(0.8196303, 6);
  });

  // By statsmodels 0.15.0, cohens_kappa(table): kappa, std_kappa.
  it.each([
    [
      [
        [44, 5, 1],
        [7, 20, 3],
        [9, 5, 6],
      ],
      0.4915254237,
      0.0721274593,
    ],
    [
      [
        [20, 5],
        [10, 15],
      ],
      0.4,
      0.1269960629,
    ],
    [
      [
        [11, 2, 3, 0],
        [1, 9, 0, 4],
        [2, 0, 14, 1],
        [0, 3, 1, 6],
      ],
      0.5984251969,
      0.0805843832,
    ],
    [
      [
        [2, 20],
        [25, 3],
      ],
      -0.7828843106,
      0.0944215525,
    ],
  ])('of %j is %f, with standard error %f', (confusion, expected, error) => {
    const { kappa, standardError } = cohensKappa(confusion);
    expect(kappa).toBeCloseTo(expected, 9);
    expect(standardError).toBeCloseTo(error, 9);
  });

  it('is said not to be there where nothing was rated, or all in one class', () => {
    expect(
      cohensKappa([
        [0, 0],
        [0, 0],
      ]),
    ).toMatchObject({ n: 0, observed: null, kappa: null });
    expect(
      cohensKappa([
        [12, 0],
        [0, 0],
      ]),
    ).toMatchObject({ n: 12, observed: 1, kappa: null });
    expect(
      cohensKappa([
        [12, 0],
        [0, 0],
      ]).why,
    ).toMatch(/one class/);
  });

  it('has no interval where the two never differ, and is 0 where one of them always says the same', () => {
    expect(
      cohensKappa([
        [9, 0],
        [0, 4],
      ]),
    ).toMatchObject({ kappa: 1, interval: null });
    expect(
      cohensKappa([
        [9, 4],
        [0, 0],
      ]),
    ).toMatchObject({ observed: 9 / 13, kappa: 0 });
  });

  it('lies in −1…1 with its interval around it, and asks not who was first', () => {
    fc.assert(
      fc.property(matrices, (confusion) => {
        const one = cohensKappa(confusion);
        const other = cohensKappa(transposed(confusion));
        expect(other.observed).toEqual(one.observed);
        expect(other.why).toBe(one.why);
        if (one.kappa === null || other.kappa === null) return;
        expect(one.kappa).toBeGreaterThanOrEqual(-1 - 1e-12);
        expect(one.kappa).toBeLessThanOrEqual(1 + 1e-12);
        expect(other.kappa).toBeCloseTo(one.kappa, 10);
        expect(other.standardError).toBeCloseTo(one.standardError, 6);
        if (!one.interval) return;
        expect(one.interval[0]).toBeLessThanOrEqual(one.kappa + 1e-9);
        expect(one.interval[1]).toBeGreaterThanOrEqual(one.kappa - 1e-9);
      }),
    );
  });
});
