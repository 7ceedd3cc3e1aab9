import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { soundsOf, spellOut, stemOf, tokenize } from './words.ts';

describe('words', () => {
  it.each([
    ["don't", 'do not'],
    ["I'm", 'i am'],
    ["won't", 'will not'],
    ["resident's", 'resident'],
    ["that's", 'that is'],
    ['call-light', 'call light'],
    ['“Gonna…”', 'going to'],
    ["scrubbin',", 'scrubbing'],
    ["'em", 'them'],
    ["in'", 'in'],
    ['—', ''],
  ])('spells out %s', (piece, words) => {
    expect(spellOut(piece).join(' ')).toBe(words);
  });

  it.each([
    ['scrubbing', 'scrub'],
    ['dried', 'dry'],
    ['slowly', 'slow'],
    ['comfortably', 'comfortable'],
    ['bent', 'bend'],
    ['fingertips', 'fingertip'],
  ])('brings %s and %s together', (inflected, base) => {
    expect(stemOf(inflected)).toBe(stemOf(base));
  });

  it('takes a word that every JavaScript object knows for a word like any other', () => {
    expect(spellOut('constructor')).toEqual(['constructor']);
    expect(stemOf('constructor')).toBe('constructor');
  });

  it('hears words that sound alike, over the space between them', () => {
    expect(soundsOf('rists')).toEqual(soundsOf('wrists'));
    expect(soundsOf('gait')).toEqual(soundsOf('gate'));
  });

  it('keeps each token tied to the word it came from, whatever is typed', () => {
    fc.assert(
      fc.property(fc.array(fc.string({ minLength: 1, maxLength: 8 })), (texts) => {
        const tokens = tokenize(texts);
        const places = tokens.map((t) => t.at);
        expect(places).toEqual([...places].sort((a, b) => a - b));
        for (const token of tokens) {
          expect(token.at).toBeLessThan(texts.length);
          expect(token.word).not.toMatch(/\s/);
        }
      }),
    );
  });

  it('ends clauses and sentences where the punctuation does', () => {
    const ends = tokenize(['Rinse,', 'dry.', 'Done?', 'yes']).map((t) => t.ends);
    expect(ends).toEqual([',', '.', '?', '']);
  });
});
