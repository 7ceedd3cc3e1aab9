import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { randomFrom } from '../noise.ts';
import { compareTexts, countErrors, normalize, numberInWords } from './wordErrors.ts';

const total = ({ substituted, deleted, inserted }: ReturnType<typeof countErrors>): number =>
  substituted + deleted + inserted;
const words = fc.array(fc.constantFrom('soap', 'water', 'rinse', 'dry', 'nails', 'wrist'), { maxLength: 12 });

describe('countErrors', () => {
  it('tells the three kinds apart', () => {
    const said = 'wet both hands and wrists'.split(' ');
    expect(countErrors(said, 'wet bath hands wrists now'.split(' '))).toEqual({
      substituted: 1,
      deleted: 1,
      inserted: 1,
      words: 5,
    });
  });

  it('counts all words deleted when nothing is heard, all inserted when nothing was said', () => {
    expect(countErrors(['a', 'b'], [])).toEqual({ substituted: 0, deleted: 2, inserted: 0, words: 2 });
    expect(countErrors([], ['a', 'b'])).toEqual({ substituted: 0, deleted: 0, inserted: 2, words: 0 });
  });

  it('is nought for equal texts only, symmetrical, and within the bounds that the lengths set', () => {
    fc.assert(
      fc.property(words, words, (a, b) => {
        const errors = total(countErrors(a, b));
        expect(errors === 0).toBe(a.join(' ') === b.join(' '));
        expect(errors).toBe(total(countErrors(b, a)));
        expect(errors).toBeGreaterThanOrEqual(Math.abs(a.length - b.length));
        expect(errors).toBeLessThanOrEqual(a.length + b.length);
      }),
    );
  });

  it('balances: words of the reference less deletions are words of the hypothesis less insertions', () => {
    fc.assert(
      fc.property(words, words, (a, b) => {
        const { deleted, inserted } = countErrors(a, b);
        expect(a.length - deleted).toBe(b.length - inserted);
      }),
    );
  });
});

describe('normalize', () => {
  it.each([
    ["I'm rinsing; that's 20 seconds!", 'i am rinsing that is twenty seconds'],
    ['I counted 118.', 'i counted one hundred eighteen'],
    ["Um, the curtain's open, uh, Mr. Finch.", 'the curtains open mister finch'],
    ["I haven't, I can't, I won't; you're gonna", 'i have not i can not i will not you are going to'],
    ['OK, well-positioned', 'okay well positioned'],
    ['1,200', 'one thousand two hundred'],
  ])('%s', (text, expected) => {
    expect(normalize(text).join(' ')).toBe(expected);
  });

  const pieces = "a d i k m r s t u h n ' ' ' dr mr ok um can won n't 's 'd".split(' ');
  const contracted = fc.array(fc.constantFrom(...pieces)).map((some) => some.join(''));

  it('changes nothing in what it has normalised', () => {
    fc.assert(
      fc.property(fc.oneof(fc.string(), contracted), (text) => {
        const once = normalize(text);
        expect(normalize(once.join(' '))).toEqual(once);
      }),
    );
  });

  it('makes digits and number words the same', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 999_999 }), (n) => {
        expect(compareTexts(numberInWords(n), String(n))).toMatchObject({
          substituted: 0,
          deleted: 0,
          inserted: 0,
        });
      }),
    );
  });
});

describe('sclite, the scoring program of NIST (Debian’s sctk)', () => {
  it('counts as many errors of each kind as we do, sentence by sentence', async () => {
    const random = randomFrom(1);
    const vocabulary = 'soap water rinse dry nails wrist hands towel'.split(' ');
    const anyWord = (): string => vocabulary[Math.floor(random() * vocabulary.length)]!;
    const pairs = Array.from({ length: 500 }, () => {
      const reference = Array.from({ length: 1 + Math.floor(random() * 25) }, anyWord);
      const hypothesis = reference.flatMap((word) => {
        const fate = random();
        if (fate < 0.2) return [];
        if (fate < 0.4) return [anyWord()];
        return fate < 0.5 ? [word, anyWord()] : [word];
      });
      return { reference, hypothesis };
    });
    const folder = await mkdtemp(path.join(tmpdir(), 'sclite-'));
    try {
      for (const side of ['reference', 'hypothesis'] as const) {
        const lines = pairs.map((pair, i) => `${pair[side].join(' ')} (x_${i})\n`);
        await writeFile(path.join(folder, `${side}.trn`), lines.join(''));
      }
      const options = '-r reference.trn trn -h hypothesis.trn trn -i rm -o pra -O . -n out'.split(' ');
      await promisify(execFile)('sctk', ['sclite', ...options], { cwd: folder });
      const report = await readFile(path.join(folder, 'out.pra'), 'utf8');
      const scored = [
        ...report.matchAll(/id: \(x_(\d+)\)\s*\nScores: \(#C #S #D #I\) \d+ (\d+) (\d+) (\d+)/g),
      ];
      expect(scored.length).toBe(pairs.length);
      for (const [, id, substituted, deleted, inserted] of scored) {
        const { reference, hypothesis } = pairs[Number(id)]!;
        expect(countErrors(reference, hypothesis)).toEqual({
          substituted: Number(substituted),
          deleted: Number(deleted),
          inserted: Number(inserted),
          words: reference.length,
        });
      }
    } finally {
      await rm(folder, { recursive: true });
    }
  });
});
