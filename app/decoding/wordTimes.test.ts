import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { piecesOf } from '../language/words.ts';
import { bare, timeWords } from './wordTimes.ts';

const segment = { start: 2, end: 6, from: 1.7, to: 6.3, pauses: [{ start: 3, end: 3.5 }] };

describe('timeWords', () => {
  it('begins and ends with the segment, strips punctuation', () => {
    const words = timeWords(piecesOf('“Good morning, Rose.”'), { ...segment, pauses: [] });
    expect(words.map((w) => w.text)).toEqual(['Good', 'morning', 'Rose']);
    expect(words[0]!.start).toBe(2);
    expect(words.at(-1)!.end).toBe(6);
    expect(words.every((w) => w.uncertainty > 0)).toBe(true);
  });

  it('puts a pause at the punctuation nearby', () => {
    const words = timeWords(piecesOf('I am done, now I am rinsing both of my hands'), segment);
    expect(words[2]).toMatchObject({ text: 'done', end: 3 });
    expect(words[3]).toMatchObject({ text: 'now', start: 3.5 });
  });

  it('orders words in time within the segment, whatever the text and the pauses', () => {
    const pauses = fc
      .array(fc.double({ min: 2, max: 6, noNaN: true }), { maxLength: 8 })
      .map((times) => times.sort((a, b) => a - b))
      .map((times) =>
        times.flatMap((start, i) =>
          i % 2 === 0 && i + 1 < times.length ? [{ start, end: times[i + 1]! }] : [],
        ),
      );
    const text = fc.array(fc.stringMatching(/^[a-z0-9]{1,9}[.,]?$/), { minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(text, pauses, (pieces, found) => {
        const words = timeWords(pieces, { ...segment, pauses: found });
        expect(words).toHaveLength(pieces.length);
        let last = 2;
        for (const { start, end } of words) {
          expect(start).toBeGreaterThanOrEqual(last - 1e-9);
          expect(end).toBeGreaterThanOrEqual(start - 1e-9);
          last = end;
        }
        expect(last).toBeLessThanOrEqual(6 + 1e-9);
      }),
    );
  });
});

describe('bare', () => {
  it('keeps signs that stand alone and marks inside words', () => {
    expect(bare("don't,")).toBe("don't");
    expect(bare('—')).toBe('—');
    expect(bare('20-second')).toBe('20-second');
  });
});
