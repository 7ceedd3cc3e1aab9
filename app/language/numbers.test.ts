import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { rivalsOf, teenTwin } from './numberRivals.ts';
import { findNumbers, spellings } from './numbers.ts';

const values = (text: string): number[] => findNumbers(text.split(' ')).map((n) => n.value);

describe('findNumbers', () => {
  it.each<[string, number[]]>([
    ['the pulse is eighteen', [18]],
    ['I counted 18.', [18]],
    ['one hundred eighteen', [118]],
    ['one hundred and eighteen', [118]],
    ['one eighteen over seventy-six', [118, 76]],
    ['118/76', [118, 76]],
    ['118 over 76', [118, 76]],
    ['a hundred and four', [104]],
    ['a hundred', [100]],
    ['hundred and two', [102]],
    ['one oh four', [104]],
    ['one twenty two', [122]],
    ['one twenty-two', [122]],
    ['three fifty milliliters', [350]],
    ['100 and 18', [118]],
    ['100 18', [118]],
    ['1 18', [118]],
    ['18 hundred', [1800]],
    ['two thousand one hundred and five', [2105]],
    ['1,200 milliliters', [1200]],
    ['98.6', [98.6]],
    ['ninety eight point six', [98.6]],
    ['ninety-eight point oh five.', [98.05]],
    ['20-second scrub', [20]],
    ['twenty seconds', [20]],
    ['one two three', [1, 2, 3]],
    ['One, two, three.', [1, 2, 3]],
    ['eight nine ten eleven', [8, 9, 10, 11]],
    ['nine ten', [9, 10]],
    ['twenty twenty', [20, 20]],
    ['one hundred, fifteen', [115]],
    ['100, 18.', [118]],
    ['one hundred. Fifteen', [100, 15]],
    ['one hundred, two, three', [100, 2, 3]],
    ['one, eighteen', [1, 18]],
    ['eighteen. One more', [18, 1]],
    ['twenty, five', [20, 5]],
    ['the first and the 2nd', []],
    ['a call light', []],
    ['hundreds of people', []],
    ['zero', [0]],
    ['point five', [0.5]],
    ['.5 pounds', [0.5]],
    ['oh point five', [0.5]],
    ['zero point five', [0.5]],
    ['at that point two people', [2]],
    ['At this point. Five', [5]],
    ['sixty-four point four kilograms', [64.4]],
    ['sixty four point twenty-five', [64.25]],
    ['64 point 4', [64.4]],
    ['a hundred and forty-two and a half pounds', [142.5]],
    ['one forty-two and a half', [142.5]],
    ['one hundred forty two, and a half', [142.5]],
    ['142 and a half', [142.5]],
    ['142 1/2 pounds', [142.5]],
    ['142-1/2', [142.5]],
    ['142½', [142.5]],
    ['142 and 3/4', [142.75]],
    ['sixty and three quarters', [60.75]],
    ['twelve and one quarter', [12.25]],
    ['half of the bed, 12 and a quarter', [12.25]],
    ['1/2 cup', []],
    ['425ml or 14oz.', [425, 14]],
    ['the 16th', []],
    ['sixteen and half a minute', [16.5]],
    ['', []],
    ['- , .', []],
  ])('%s', (text, expected) => {
    expect(values(text)).toEqual(expected);
  });

  it('says which words each number takes', () => {
    expect(findNumbers(['It', 'is', 'one', 'hundred', 'and', 'eighteen.', 'And', '7'])).toEqual([
      { value: 118, from: 2, to: 6 },
      { value: 7, from: 7, to: 8 },
    ]);
    expect(findNumbers(['118/76'])).toEqual([
      { value: 118, from: 0, to: 1 },
      { value: 76, from: 0, to: 1 },
    ]);
  });

  it('reads every spelling of every number', () => {
    for (let n = 0; n <= 2200; n++) for (const s of spellings(n)) expect([s, values(s)]).toEqual([s, [n]]);
  });

  it('takes any words, and spans lie in order inside them', () => {
    const word = fc.oneof(
      fc.constantFrom(
        'one',
        'twenty',
        'hundred',
        'and',
        'a',
        'point',
        'oh',
        '18',
        '100',
        '-',
        'nine,',
        'thousand',
      ),
      fc.string(),
    );
    fc.assert(
      fc.property(fc.array(word), (words) => {
        let last = 0;
        for (const { value, from, to } of findNumbers(words)) {
          expect(Number.isFinite(value)).toBe(true);
          // A word may hold two numbers ("118/76").
          expect(from).toBeGreaterThanOrEqual(Math.max(0, last - 1));
          expect(to).toBeGreaterThan(from);
          expect(to).toBeLessThanOrEqual(words.length);
          last = to;
        }
      }),
    );
  });
});

describe('rivalsOf', () => {
  it('names the usual confusions', () => {
    expect(rivalsOf(18)).toEqual(expect.arrayContaining([80, 88, 17, 19, 8, 118]));
    expect(rivalsOf(80)).toEqual(expect.arrayContaining([18, 81, 180]));
    expect(rivalsOf(118)).toEqual(expect.arrayContaining([180, 18, 100, 117, 119]));
    expect(rivalsOf(180)).toEqual(expect.arrayContaining([118, 80, 100]));
    expect(rivalsOf(20)).toEqual(expect.arrayContaining([12, 21, 24, 30]));
    expect(rivalsOf(24)).toEqual(expect.arrayContaining([20, 4, 34, 25, 23]));
    expect(rivalsOf(5)).toEqual(expect.arrayContaining([9, 4, 6, 15, 50]));
  });

  it('never names the value itself, a fraction, a negative or the same twice', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 9999 }), (value) => {
        const rivals = rivalsOf(value);
        expect(rivals).not.toContain(value);
        expect(new Set(rivals).size).toBe(rivals.length);
        for (const rival of rivals) expect(Number.isInteger(rival) && rival >= 0).toBe(true);
      }),
    );
  });

  it('takes a fraction for others with the same, without it, and with one that sounds alike', () => {
    expect(rivalsOf(118.5)).toEqual(expect.arrayContaining([118, 118.9, 118.4, 180.5, 18.5]));
    expect(rivalsOf(118.5)).not.toContain(118.5);
    expect(teenTwin(118.5)).toBe(180.5);
  });

  it('has none for what is no number it knows', () => {
    expect(rivalsOf(-1)).toEqual([]);
    expect(rivalsOf(NaN)).toEqual([]);
  });
});

describe('teenTwin', () => {
  it('pairs teens with tens both ways, as rivals', () => {
    expect([13, 130, 118, 190, 215].map(teenTwin)).toEqual([30, 113, 180, 119, 250]);
    expect([12, 20, 10, 100, 76, 98.6, -13].map(teenTwin)).toEqual([
      null,
      null,
      null,
      null,
      null,
      null,
      null,
    ]);
    for (let n = 0; n <= 999; n++) {
      const twin = teenTwin(n);
      if (twin === null) continue;
      expect(teenTwin(twin)).toBe(n);
      expect(rivalsOf(n)).toContain(twin);
    }
  });
});
