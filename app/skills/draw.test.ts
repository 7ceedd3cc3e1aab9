import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CannotDraw, draw, weaknessOf } from './draw.ts';
import { FormSchema, hasReading, type Form } from './form.ts';
import { randomFrom } from './random.ts';
import { SkillSchema, type Skill } from './skill.ts';

const skill = (id: string, evidence: object = { kind: 'said' }): Skill =>
  SkillSchema.parse({
    schema: 1,
    id,
    title: id,
    card: 'Do it.',
    steps: [{ id: 'a', text: 'A', cues: ['a b'], evidence }],
  });
const measured = (id: string): Skill =>
  skill(id, { kind: 'reading', unit: 'pounds', from: 1, to: 9, value: ['x'] });
const form = (rest: object): Form =>
  FormSchema.parse({ schema: 1, id: 'f', title: 'F', rules: 'practice', ...rest });

const letters = (from: string, count: number): string[] =>
  Array.from({ length: count }, (_, i) => String.fromCharCode(from.charCodeAt(0) + i));
const FIRST = skill('first');
const POOL = [FIRST, ...letters('a', 8).map((id) => skill(id)), ...letters('p', 4).map(measured)];
const ids = (skills: readonly Skill[]): string => skills.map(({ id }) => id).join(' ');

/** Pearson's statistic of counts against how often each was to come. */
const chiSquare = (counts: readonly number[], expected: readonly number[]): number =>
  counts.reduce((sum, n, i) => sum + (n - expected[i]!) ** 2 / expected[i]!, 0);

describe('a draw', () => {
  it('is the same for the same seed and another for another', () => {
    const five = form({ first: 'first', skills: 5, readings: 1 });
    const drawn = (seed: number): string => ids(draw(five, POOL, randomFrom(seed)));
    expect(drawn(7)).toBe(drawn(7));
    expect(new Set(Array.from({ length: 20 }, (_, seed) => drawn(seed))).size).toBeGreaterThan(15);
  });

  it('keeps to its form, whatever that is', () => {
    fc.assert(
      fc.property(
        fc.integer(),
        fc.integer({ min: 1, max: 6 }),
        fc.option(fc.integer({ min: 0, max: 4 }), { nil: undefined }),
        fc.boolean(),
        fc.subarray(['a', 'b', 'p']),
        (seed, skills, readings, hasFirst, exclude) => {
          const wanted = form({
            ...(hasFirst && { first: 'first' }),
            skills,
            readings,
            exclude,
            apart: [['c', 'd', 'q']],
          });
          const possible =
            (readings ?? 0) <= Math.min(skills - Number(hasFirst), exclude.includes('p') ? 3 : 4);
          if (!possible) return;
          const drawn = draw(wanted, POOL, randomFrom(seed));
          expect(drawn).toHaveLength(skills);
          expect(new Set(drawn).size).toBe(skills);
          if (hasFirst) expect(drawn[0]?.id).toBe('first');
          if (readings !== undefined) expect(drawn.filter(hasReading)).toHaveLength(readings);
          expect(drawn.filter(({ id }) => exclude.includes(id as 'a'))).toEqual([]);
          expect(drawn.filter(({ id }) => 'cdq'.includes(id)).length).toBeLessThan(2);
        },
      ),
    );
  });

  // Critical values of the chi-square distribution at 0.999: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4
  // (values from memory: 43.820 for 19 degrees of freedom, 32.909 for 12, 20.515 for 5).
  it('makes every order of every choice equally likely', () => {
    const counts = new Map<string, number>();
    const random = randomFrom(1);
    const DRAWS = 20_000;
    for (let i = 0; i < DRAWS; i++) {
      const drawn = ids(draw(form({ skills: 2 }), POOL.slice(1, 6), random));
      counts.set(drawn, (counts.get(drawn) ?? 0) + 1);
    }
    expect(counts.size).toBe(20);
    expect(chiSquare([...counts.values()], new Array<number>(20).fill(DRAWS / 20))).toBeLessThan(43.82);
  });

  it('reaches every skill of the pool, as often as its share says', () => {
    const random = randomFrom(2);
    const counts = new Map<string, number>(POOL.map(({ id }) => [id, 0]));
    const DRAWS = 20_000;
    for (let i = 0; i < DRAWS; i++)
      for (const { id } of draw(form({ first: 'first', skills: 5, readings: 1 }), POOL, random))
        counts.set(id, (counts.get(id) ?? 0) + 1);
    expect(counts.get('first')).toBe(DRAWS);
    const some = POOL.slice(1).map(({ id }) => counts.get(id) ?? 0);
    // Three of the eight without a number, one of the four with. Draws without replacement scatter less than the test allows.
    const expected = POOL.slice(1).map((each) => DRAWS * (hasReading(each) ? 1 / 4 : 3 / 8));
    expect(chiSquare(some, expected)).toBeLessThan(32.909);
  });

  it('heeds weights, and weakness', () => {
    const random = randomFrom(3);
    const times = (weights: object, weakness = new Map<string, number>()): number[] => {
      const counts = new Map<string, number>();
      for (let i = 0; i < 12_000; i++) {
        const [drawn] = draw(form({ skills: 1, weights }), POOL.slice(1, 7), random, weakness);
        counts.set(drawn!.id, (counts.get(drawn!.id) ?? 0) + 1);
      }
      return POOL.slice(1, 7).map(({ id }) => counts.get(id) ?? 0);
    };
    const even = [1, 1, 1, 1, 1].map((share) => (12_000 * share) / 8);
    expect(chiSquare(times({ a: 3 }), [(12_000 * 3) / 8, ...even])).toBeLessThan(20.515);
    const weak = new Map([['a', 0.5]]);
    expect(chiSquare(times({}, weak), [(12_000 * 3) / 8, ...even])).toBeLessThan(20.515);
  });

  it.each<[object, RegExp]>([
    [{ skills: 20 }, /wants 20 skills; there are 13 to draw from, 4 with a number/],
    [{ skills: 6, readings: 5 }, /wants 6 skills, 5 with a number/],
    [{ skills: 2, first: 'bow' }, /begins with "bow", which is no skill here/],
    [{ skills: 2, pool: ['a', 'b'], apart: [['a', 'b']] }, /keeps so many skills apart/],
  ])('that cannot be says why: %j', (rest, message) => {
    expect(() => draw(form(rest), POOL, randomFrom(1))).toThrow(CannotDraw);
    expect(() => draw(form(rest), POOL, randomFrom(1))).toThrow(message);
  });
});

describe('weakness', () => {
  it('is that of the latest rehearsals, the newest counting most, and whole for what was never rehearsed', () => {
    const past = (skill: string, heard: number, criticalMissed: string[] = []) => ({
      skill,
      heard,
      of: 10,
      criticalMissed,
    });
    const weakness = weaknessOf(POOL, [past('a', 10), past('b', 0), past('a', 4), past('c', 9, ['x'])]);
    expect(weakness.get('a')).toBeCloseTo((0 + 0.6 / 2) / 1.5);
    expect(weakness.get('b')).toBe(1);
    expect(weakness.get('c')).toBe(0.5);
    expect(weakness.get('d')).toBe(1);
  });
});
