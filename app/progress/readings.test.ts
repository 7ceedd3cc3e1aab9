import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ReadingTaken } from '../bench/readings/taken.ts';
import { readingName } from '../skills/readingName.ts';
import type { Attempt } from './attempt.ts';
import { isRounded, readingsIn, readingStatistics } from './readings.ts';

const at = (minute: number): string => new Date(Date.UTC(2026, 10, 1, 8, minute)).toISOString();
const reading = (recorded: number, truth: number, changes: Partial<ReadingTaken> = {}): ReadingTaken => ({
  name: 'Upper number',
  unit: 'mmHg',
  recorded,
  truth,
  stretch: null,
  takenAt: at(0),
  ...changes,
});

describe("a person's readings", () => {
  it('are told apart by what was read, and go by time', () => {
    const all = [
      reading(120, 118, { takenAt: at(3) }),
      reading(80, 76, { name: 'Lower number', takenAt: at(2) }),
      reading(116, 118, { takenAt: at(1) }),
    ];
    const found = readingStatistics(all);
    expect(found.map(({ name, readings }) => [name, readings.map(({ recorded }) => recorded)])).toEqual([
      ['Upper number', [116, 120]],
      ['Lower number', [80]],
    ]);
    expect(found[0]?.agreement).toBeNull();
  });

  it('show bias, rounding and counts that were stopped early', () => {
    const truths = Array.from({ length: 50 }, (_, i) => 100 + 2 * (i % 25));
    const [rounded] = readingStatistics(truths.map((truth) => reading(10 * Math.ceil(truth / 10), truth)));
    // 100 to 148: rounded up to tens, 4 too high on average (0, 8, 6, 4, 2).
    expect(rounded?.agreement?.bias.value).toBeCloseTo(4);
    expect(rounded && isRounded(rounded)).toBe(true);
    const [exact] = readingStatistics(truths.map((truth) => reading(truth, truth)));
    expect(exact && isRounded(exact)).toBe(false);
    const counts = [60, 45, 59].map((to) =>
      reading(16, 16, { name: 'Respirations', unit: 'breaths a minute', stretch: { from: 0, to } }),
    );
    expect(readingStatistics(counts)[0]?.early).toEqual({ n: 3, early: 1, missing: 15 });
  });

  it('say nothing of last digits where the container has a mark every 25', () => {
    const own = Array.from({ length: 60 }, (_, i) => reading(25 * i, 25 * i, { unit: 'millilitres' }));
    expect(readingStatistics(own)[0]?.digits).toBeNull();
  });

  it('lose none, and the limits lie about the bias', () => {
    const some = fc.array(
      fc.record({ recorded: fc.integer({ min: 4, max: 260 }), truth: fc.integer({ min: 4, max: 260 }) }),
    );
    fc.assert(
      fc.property(some, (values) => {
        const found = readingStatistics(values.map(({ recorded, truth }) => reading(recorded, truth)));
        expect(found.flatMap(({ readings }) => readings)).toHaveLength(values.length);
        for (const { agreement } of found)
          if (agreement) expect(agreement.lower.value).toBeLessThanOrEqual(agreement.bias.value);
      }),
    );
  });
});

describe('the readings of attempts', () => {
  const attempt = (changes: Partial<Attempt>): Attempt => ({
    id: 'x',
    trainee: null,
    startedAt: at(0),
    skill: 'respirations',
    title: 'Counting respirations',
    steps: [],
    passed: true,
    clocks: [{ id: 'count', seconds: 44, uncertainty: 1, required: 60, met: false }],
    readings: [{ step: 'record', name: 'Respirations', unit: 'breaths a minute', said: 15, truth: 16 }],
    narrated: null,
    longestSilence: 0,
    ...changes,
  });

  it('are those whose truth is known, with how long was counted', () => {
    const unknown = attempt({
      readings: [{ step: 'record', name: 'Respirations', unit: 'breaths a minute', said: 15, truth: null }],
    });
    expect(readingsIn([attempt({}), unknown])).toEqual([
      reading(15, 16, { name: 'Respirations', unit: 'breaths a minute', stretch: { from: 0, to: 45 } }),
    ]);
    expect(readingsIn([attempt({ clocks: [] })])[0]?.stretch).toBeNull();
  });

  it('have the names that the bench gives them', () => {
    expect(readingName('mmHg', 'first')).toBe('Upper number');
    expect(readingName('mmHg', 'last')).toBe('Lower number');
    expect(readingName('millilitres', 'last')).toBe('Urine output');
    expect(readingName('steps', 'last')).toBe('steps');
  });
});
