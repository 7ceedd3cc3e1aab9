import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  atEyeLevel,
  CONTAINER,
  filledFrom,
  heightOf,
  meniscusRise,
  seenFrom,
  toFluidOunces,
  toMillilitres,
  toNearestMark,
} from './container.ts';
import {
  AT_ZERO,
  BEAMS,
  imbalance,
  isBalanced,
  loadFrom,
  pointerAt,
  readOff,
  toKilograms,
  toPounds,
} from './scale.ts';

describe('units', () => {
  // NIST Special Publication 811 (2008), Appendix B.8: fluid ounce (US) 2.957 353 E−05 m³, pound (avoirdupois) 4.535 923 7 E−01 kg.
  // 16 CFR 500.19 gives the same to six digits: 1 fl oz = 29.5735 mL, 1 mL = 0.033 814 0 fl oz, 1 lb = 0.453 592 kg, 1 kg = 2.204 62 lb.
  it('are those of NIST', () => {
    expect(toMillilitres(1)).toBe(29.57353);
    expect(toFluidOunces(1)).toBeCloseTo(0.033814, 7);
    expect(toKilograms(1)).toBe(0.45359237);
    expect(toPounds(1)).toBeCloseTo(2.20462, 5);
    // A US pint, 16 fl oz, is 473.177 mL there.
    expect(toMillilitres(16)).toBeCloseTo(473.177, 2);
  });

  it('come back from there and back', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 2000, noNaN: true }), (value) => {
        expect(toMillilitres(toFluidOunces(value))).toBeCloseTo(value, 9);
        expect(toPounds(toKilograms(value))).toBeCloseTo(value, 9);
      }),
    );
  });
});

describe('a graduated container', () => {
  it('reads right at eye level, too high from above and too low from below', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 100, max: 900 }),
        fc.integer({ min: 150, max: 600 }),
        (volume, distance) => {
          const eye = atEyeLevel(volume, distance);
          expect(seenFrom(eye, volume)).toBeCloseTo(volume, 9);
          expect(seenFrom({ ...eye, height: eye.height + 200 }, volume)).toBeGreaterThan(volume);
          expect(seenFrom({ ...eye, height: eye.height - 50 }, volume)).toBeLessThan(volume);
        },
      ),
    );
  });

  it('reads off the mark on the line of sight, worked by hand', () => {
    // Eye 300 mm above the surface and 405 mm off, axis 45 mm behind the scale: 300 · 45 / 450 = 30 mm too high, 190.9 mL.
    const volume = 400;
    const eye = { height: heightOf(volume) + 300, distance: 405 };
    expect(seenFrom(eye, volume) - volume).toBeCloseTo((30 * Math.PI * 45 * 45) / 1000, 6);
  });

  it('holds 1000 mL at its highest mark', () => {
    // 1 L is 1000 cm³: height times floor.
    expect(heightOf(CONTAINER.capacity) * Math.PI * 45 ** 2).toBeCloseTo(1e6, 3);
    const filled = Array.from({ length: 10_000 }, (_, seed) => filledFrom(seed));
    expect(Math.min(...filled)).toBeGreaterThanOrEqual(125);
    expect(Math.max(...filled)).toBeLessThanOrEqual(900);
    const wrong = filled.filter((volume) => {
      const truth = toNearestMark(volume);
      return truth % 25 !== 0 || Math.abs(truth - volume) > 12.5;
    });
    expect(wrong).toEqual([]);
  });

  it('has a meniscus that climbs its wall by less than 4 mm', () => {
    // √2 capillary lengths at most, 3.8 mm of water on clean glass (de Gennes et al., from memory).
    expect(meniscusRise(0)).toBeCloseTo(3.8, 1);
    expect(meniscusRise(90)).toBeCloseTo(0, 9);
    expect(meniscusRise(60)).toBeLessThan(meniscusRise(30));
  });
});

describe.each(['pounds', 'kilograms'] as const)('a balance beam in %s', (unit) => {
  const beam = BEAMS[unit];

  it('can weigh every resident, and balances at one mark alone', () => {
    const wrong = Array.from({ length: 10_000 }, (_, seed) => seed).filter((seed) => {
      const { weight, offZero } = loadFrom(seed, beam);
      const large = Math.floor(weight / beam.notch + 1e-9);
      const marks = Math.round((weight - large * beam.notch) / beam.mark);
      const [under, at, over] = [-1, 0, 1].map((by) =>
        isBalanced(beam, imbalance(beam, weight, { large, small: (marks + by) * beam.mark }, 0)),
      );
      const isRight = large < beam.notches && Math.abs(offZero) > beam.mark / 2 && !under && at && !over;
      return !isRight || Math.abs(readOff(beam, { large, small: marks * beam.mark }) - weight) > 1e-9;
    });
    expect(wrong).toEqual([]);
  });

  it('not set to zero is wrong by just that', () => {
    const { weight, offZero } = loadFrom(4, beam);
    const wrong = weight + offZero;
    const large = Math.floor(wrong / beam.notch);
    const off = imbalance(beam, weight, { large, small: wrong - large * beam.notch }, offZero);
    expect(isBalanced(beam, off)).toBe(true);
    expect(isBalanced(beam, imbalance(beam, 0, AT_ZERO, offZero))).toBe(false);
  });

  it('swings and comes to rest', () => {
    const heavy = imbalance(beam, 40 * beam.mark, AT_ZERO, 0);
    expect(pointerAt(beam, heavy, 5)).toBeCloseTo(1, 2);
    const spread = (from: number): number => {
      const seen = Array.from({ length: 100 }, (_, i) => pointerAt(beam, 0, from + i / 50));
      return Math.max(...seen) - Math.min(...seen);
    };
    expect(spread(0)).toBeGreaterThan(0.2);
    expect(spread(3)).toBeLessThan(0.02);
  });
});
