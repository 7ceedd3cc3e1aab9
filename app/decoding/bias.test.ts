import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { PhraseBias, type BiasState } from './bias.ts';

const phrases = fc.array(fc.array(fc.integer({ min: 1, max: 4 }), { maxLength: 5 }), { maxLength: 8 });
const texts = fc.array(fc.integer({ min: 1, max: 5 }), { maxLength: 40 });

function statesOf(bias: PhraseBias, text: readonly number[]): BiasState[] {
  const states = [bias.start];
  for (const token of text) states.push(bias.advance(states.at(-1)!, token));
  return states;
}

/** Positions of a text that lie inside any occurrence of any phrase, found by trying them all. */
function coveredPositions(all: readonly (readonly number[])[], text: readonly number[]): Set<number> {
  const covered = new Set<number>();
  for (const phrase of all)
    for (let at = 0; at + phrase.length <= text.length; at++)
      if (phrase.every((token, i) => text[at + i] === token)) phrase.forEach((_, i) => covered.add(at + i));
  return covered;
}

describe('PhraseBias', () => {
  it('covers each token of a phrase once, however phrases overlap', () => {
    fc.assert(
      fc.property(phrases, texts, (all, text) => {
        const states = statesOf(new PhraseBias(all), text);
        states.forEach(({ covered }, length) => {
          expect(covered).toBe(coveredPositions(all, text.slice(0, length)).size);
        });
      }),
      { numRuns: 500 },
    );
  });

  it('lends exactly what the longest phrase in progress would add and no completed one has', () => {
    fc.assert(
      fc.property(phrases, texts, (all, text) => {
        statesOf(new PhraseBias(all), text).forEach(({ lent }, length) => {
          const sofar = text.slice(0, length);
          const covered = coveredPositions(all, sofar);
          const begun = all.flatMap((phrase) =>
            phrase.map((_, i) => phrase.slice(0, i + 1)).filter((start) => endsWith(sofar, start)),
          );
          const longest = Math.max(0, ...begun.map((start) => start.length));
          const open = Array.from({ length: longest }, (_, i) => length - 1 - i);
          expect(lent).toBe(open.filter((position) => !covered.has(position)).length);
        });
      }),
      { numRuns: 500 },
    );
  });

  it('gives back all it lent when a phrase breaks off', () => {
    const bias = new PhraseBias([[1, 2, 3, 4]]);
    const states = statesOf(bias, [1, 2, 3, 9]);
    expect(states.map(({ lent }) => lent)).toEqual([0, 1, 2, 3, 0]);
    expect(states.at(-1)!.covered).toBe(0);
  });

  it('names every token that goes on with a phrase, and only those', () => {
    fc.assert(
      fc.property(phrases, texts, (all, text) => {
        const bias = new PhraseBias(all);
        const state = statesOf(bias, text).at(-1)!;
        const named = new Set(bias.continuations(state));
        const due = all.flatMap((phrase) => phrase.filter((_, i) => endsWith(text, phrase.slice(0, i))));
        expect(named).toEqual(new Set(due));
      }),
    );
  });

  it('leaves out phrases longer than its account', () => {
    const long = Array.from({ length: 31 }, () => 1);
    expect(statesOf(new PhraseBias([long]), long).at(-1)).toMatchObject({ covered: 0, lent: 0 });
  });
});

function endsWith(text: readonly number[], end: readonly number[]): boolean {
  return end.length <= text.length && end.every((token, i) => text[text.length - end.length + i] === token);
}
