import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { converted, isTime, unitAt } from './units.ts';

describe('a unit behind a number', () => {
  it.each<[string, string | null]>([
    ['breaths a minute', 'breaths a minute'],
    ['respirations per minute', 'breaths a minute'],
    ['breaths and i wash my hands', 'breaths a minute'],
    ['a minute', 'times a minute'],
    ['beats', 'beats a minute'],
    ['millimeters of mercury', 'mmHg'],
    ['milliliters', 'millilitres'],
    ['ml of urine', 'millilitres'],
    ['cc', 'millilitres'],
    ['fluid ounces', 'ounces'],
    ['pounds', 'pounds'],
    ['kilos', 'kilograms'],
    ['seconds', 'seconds'],
    ['minutes', 'minutes'],
    ['degrees', 'degrees'],
    ['breathing in', null],
    ['mild soap', null],
    ['poundcake', null],
    ['', null],
  ])('%s', (text, unit) => {
    expect(unitAt(text.split(' '))?.unit ?? null).toBe(unit);
  });

  it('is a school’s own as it is written, and takes as many words', () => {
    expect(unitAt(['peak', 'flow', 'points', 'today'], 'peak flow points')).toEqual({
      unit: 'peak flow points',
      words: 3,
    });
    expect(unitAt(['a', 'minute', 'now'])).toEqual({ unit: 'times a minute', words: 2 });
  });
});

describe('a value in another unit', () => {
  // NIST Special Publication 811 (2008), Appendix B.8: 1 lb = 4.535924 E−01 kg, 1 US fl oz = 2.957353 E+01 mL.
  // NIST Handbook 44, Appendix C: 16 ounces to the pound.
  it.each<[number, string, string, number | null]>([
    [142.5, 'pounds', 'kilograms', 64.6],
    [64.4, 'kilograms', 'pounds', 142],
    [14, 'ounces', 'millilitres', 414],
    [0.5, 'litres', 'millilitres', 500],
    [2280, 'ounces', 'pounds', 142.5],
    [64_400, 'grams', 'kilograms', 64.4],
    [16, 'times a minute', 'breaths a minute', 16],
    [72, 'times a minute', 'beats a minute', 72],
    [16, 'beats a minute', 'breaths a minute', null],
    [425, 'millilitres', 'pounds', null],
    [80, 'kilograms', 'kg', 80],
    [14, 'ounces', 'mL', 414],
    [16, 'furlongs', 'pounds', null],
    [16, 'furlongs', 'furlongs', 16],
  ])('%d %s in %s', (value, from, to, wanted) => {
    expect(converted(value, from, to)).toBe(wanted);
  });

  it('comes back to within what rounding takes', () => {
    fc.assert(
      fc.property(fc.integer({ min: 600, max: 5000 }), (tenths) => {
        const pounds = tenths / 10;
        const back = converted(converted(pounds, 'pounds', 'kilograms') ?? NaN, 'kilograms', 'pounds');
        // A twentieth of a kilogram is 0.11 pounds, and a twentieth of a pound comes on top.
        expect(Math.abs((back ?? NaN) - pounds)).toBeLessThan(0.17);
      }),
    );
  });

  it('knows time from all else', () => {
    expect(['seconds', 'minutes', 'hours', 'pounds', 'mmHg', 'furlongs'].map(isTime)).toEqual([
      true, true, true, false, false, false,
    ]); // prettier-ignore
  });
});
