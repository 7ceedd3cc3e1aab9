import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Claim } from './claim.ts';
import { settle } from './settle.ts';

const claim = (target: string, tokens: readonly number[], more: Partial<Claim> = {}): Claim => ({
  target,
  cue: target,
  stance: 'asserted',
  score: 1,
  plainScore: 1,
  plain: true,
  mass: 1,
  tokens,
  from: Math.min(...tokens),
  to: Math.max(...tokens) + 1,
  across: false,
  ...more,
});

const ORDER = ['first', 'second', 'third', 'fourth'];
const rank = (target: string): number => ORDER.indexOf(target);
const targets = (claims: readonly Claim[]): string[] => settle(claims, rank).map(({ target }) => target);

const claims = fc.array(
  fc
    .record({
      target: fc.constantFrom(...ORDER),
      tokens: fc.uniqueArray(fc.nat({ max: 9 }), { minLength: 1, maxLength: 5 }),
      score: fc.double({ min: 0.56, max: 1, noNaN: true }),
      mass: fc.double({ min: 0.1, max: 3, noNaN: true }),
      across: fc.boolean(),
    })
    .map(({ target, tokens, ...more }) =>
      claim(
        target,
        [...tokens].sort((a, b) => a - b),
        more,
      ),
    ),
  { maxLength: 8 },
);

describe('settling claims', () => {
  it('gives shared words to the fuller claim', () => {
    expect(targets([claim('first', [1, 2], { mass: 1 }), claim('second', [1, 2, 3], { mass: 2 })])).toEqual([
      'second',
    ]);
  });

  it('lets the order decide where two fit the same words equally well', () => {
    const alike = [claim('second', [1, 2]), claim('first', [1, 2])];
    expect(targets(alike)).toEqual(['first']);
    expect(targets([...alike].reverse())).toEqual(['first']);
  });

  it('puts a saying within one sentence before one over two', () => {
    expect(
      targets([claim('first', [1, 2], { across: true, mass: 3 }), claim('second', [2, 3], { mass: 1 })]),
    ).toEqual(['second']);
  });

  it('has no room for one word inside another saying', () => {
    expect(targets([claim('first', [1, 3]), claim('second', [2], { mass: 0.5 })])).toEqual(['first']);
  });

  it('gives no claim fewer than half of its words as its own, nor a spread one fewer than all', () => {
    fc.assert(
      fc.property(claims, (all) => {
        const taken = new Set<number>();
        for (const { tokens, across } of settle(all, rank)) {
          const own = tokens.filter((t) => !taken.has(t)).length;
          expect(own).toBeGreaterThanOrEqual(across ? tokens.length : tokens.length / 2);
          tokens.forEach((t) => taken.add(t));
        }
      }),
    );
  });

  it('never lets two claims stand on the very same words, and makes none up', () => {
    fc.assert(
      fc.property(claims, (all) => {
        const standing = settle(all, rank);
        expect(standing.every((c) => all.includes(c))).toBe(true);
        const words = standing.map(({ tokens }) => tokens.join(' '));
        expect(new Set(words).size).toBe(words.length);
        expect(standing.length > 0).toBe(all.length > 0);
      }),
    );
  });
});
