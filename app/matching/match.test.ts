import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { splitClauses } from '../language/clauses.ts';
import { findMarkers } from '../language/polarity.ts';
import { piecesOf, tokenize } from '../language/words.ts';
import { CREDIT_FROM, PLAIN_FROM, saysIt, UNSURE_FROM, type Claim } from './claim.ts';
import { parseCue, weighItems } from './cue.ts';
import { Matcher } from './match.ts';
import type { Target } from './sayings.ts';

const LEXICON = { slots: { close: ['close', 'pull', 'draw'], light: ['call light', 'call bell'] } };

const CUES: Readonly<Record<string, readonly string[]>> = {
  curtain: ['i {close} the curtain'],
  light: ['the {light} is within reach'],
  sink: ['i do not touch the sink'],
  done: ['finished.'],
  bend: ['i bend the knee'],
};

function matcherOf(cues: Readonly<Record<string, readonly string[]>>, repeats: readonly string[]): Matcher {
  const parsed = Object.entries(cues).map(([id, all]) => ({
    id,
    cues: all.map((c) => parseCue(c, LEXICON)),
  }));
  const weigh = weighItems(parsed.map((target) => target.cues.map(({ items }) => items)));
  return new Matcher(
    parsed.map(({ id, cues: all }): Target => ({
      id,
      cues: all.map(({ text, items, alone }) => ({
        text,
        alone,
        items: items.map((item) => ({ item, weight: weigh(item) })),
      })),
      allows: new Set(),
      repeats: repeats.includes(id),
    })),
  );
}

const matcher = matcherOf(CUES, ['bend']);

function find(text: string): Claim[] {
  const tokens = tokenize(piecesOf(text));
  const clauses = splitClauses(tokens);
  return matcher.find(tokens, clauses, findMarkers(tokens, clauses));
}

const targets = (text: string): string[] => find(text).map(({ target }) => target);

describe('a cue', () => {
  it('is found in the words of its slots and in their inflections', () => {
    const found = find("I'm drawing the curtain.");
    expect(found).toMatchObject([{ target: 'curtain', stance: 'asserted', plain: true, across: false }]);
    expect(found[0]?.score).toBeCloseTo(1, 10);
    expect(found[0]?.plainScore).toBeCloseTo(1, 10);
  });

  it('is found at falling quality in words that sound or look alike', () => {
    const [alike] = find('The collide is within reach.');
    expect(alike).toMatchObject({ target: 'light', plain: true });
    expect(alike?.score).toBeGreaterThanOrEqual(CREDIT_FROM);
    expect(alike?.score).toBeLessThan(1);
    expect(alike?.plainScore).toBeLessThan(alike?.score ?? 0);
    const [misspelt] = find('I close the curtein.');
    expect(misspelt?.target).toBe('curtain');
    expect(misspelt?.plainScore).toBeLessThan(PLAIN_FROM);
  });

  it('needs two of its words of content', () => {
    expect(targets('The curtain is blue.')).toEqual([]);
  });

  it('is denied by a marker, unless it means the marker itself', () => {
    expect(find('I have not closed the curtain.')).toMatchObject([{ target: 'curtain', stance: 'denied' }]);
    expect(find('I do not touch the sink.')).toMatchObject([{ target: 'sink', stance: 'asserted' }]);
    expect(targets('I touch the sink.')).toEqual([]);
  });

  it('with a full stop stands alone in its clause', () => {
    expect(targets('Finished.')).toEqual(['done']);
    expect(targets('Finished the soap.')).toEqual([]);
    expect(targets('Finished?')).toEqual([]);
  });

  it('over two sentences counts less', () => {
    expect(find('I close. The curtain.')).toMatchObject([{ target: 'curtain', across: true }]);
    expect(find('I close. The curtain.')[0]?.score).toBeCloseTo(0.92, 10);
  });

  it('is found once an utterance, and as often as it is said where it repeats', () => {
    expect(targets('I close the curtain, and I pull the curtain.')).toEqual(['curtain']);
    expect(targets('I bend the knee, and I bend the knee.')).toEqual(['bend', 'bend']);
  });
});

describe('an utterance that goes on from the one before', () => {
  const tokens = tokenize(piecesOf('I close the curtain'));
  const clauses = splitClauses(tokens);

  it('claims nothing in the words before alone, nor with a word that is spent', () => {
    expect(matcher.find(tokens, clauses, [], 2)).toMatchObject([{ target: 'curtain' }]);
    expect(matcher.find(tokens, clauses, [], 4)).toEqual([]);
    expect(matcher.find(tokens, clauses, [], 2, new Set([1]))).toEqual([]);
  });
});

describe('the nearest cue', () => {
  it('tells what of it was lacking', () => {
    const near = matcher.nearest(tokenize(piecesOf('I close the window')));
    expect(near.find(({ target }) => target === 'curtain')).toMatchObject({
      cue: 'i {close} the curtain',
      lacking: ['curtain'],
    });
    expect(near.find(({ target }) => target === 'light')?.lacking).toContain('{light}');
  });
});

describe('claims on any words', () => {
  const word = fc.constantFrom(
    ...'i close pull the curtain curtian call light collide within reach not do touch sink finished bend knee and before if . , ?'.split(
      ' ',
    ),
  );

  it('stand within them, with scores from 0 to 1, and say a target at most once each way', () => {
    fc.assert(
      fc.property(fc.array(word, { maxLength: 25 }), (words) => {
        const text = words.join(' ');
        const count = tokenize(piecesOf(text)).length;
        const claims = find(text);
        for (const { from, to, tokens, score, plainScore } of claims) {
          expect(tokens).toEqual([...new Set(tokens)].sort((a, b) => a - b));
          expect([tokens[0], (tokens.at(-1) ?? 0) + 1]).toEqual([from, to]);
          expect(to).toBeLessThanOrEqual(count);
          expect(score).toBeGreaterThanOrEqual(UNSURE_FROM);
          expect(score).toBeLessThanOrEqual(1 + 1e-9);
          expect(plainScore).toBeLessThanOrEqual(score + 1e-9);
        }
        const keys = claims
          .filter(({ target }) => target !== 'bend')
          .map((claim) => `${claim.target} ${String(saysIt(claim))}`);
        expect(new Set(keys).size).toBe(keys.length);
      }),
    );
  });
});
