import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bestOf, LISTENING, TrialSchema, USUAL, type Trial } from './choice.ts';

const trial = (listening: Trial['listening'], rest: Partial<Trial> = {}): Trial => ({
  listening,
  name: `${listening}/a`,
  at: '2026-11-26T10:00:00.000Z',
  right: 15,
  of: 18,
  wrong: 0,
  wrongCritical: 0,
  tick: 0.5,
  settled: 1.5,
  bytes: null,
  ...rest,
});
const all = new Map(LISTENING.map((choice) => [choice, `${choice}/a`]));

describe('what did best', () => {
  it('is the usual engine where nothing was measured', () => {
    expect(bestOf([], all)).toEqual({ listening: USUAL, trial: null });
  });

  it('has the most steps right, false credits taken off; of equals the quicker tick', () => {
    const better = trial('both', { right: 17, wrong: 1 });
    expect(bestOf([trial('moonshine'), better], all).trial).toBe(better);
    expect(bestOf([trial('moonshine'), trial('both', { right: 17, wrong: 3 })], all).listening).toBe(
      'moonshine',
    );
    expect(bestOf([trial('moonshine'), trial('vosk', { tick: -0.2 })], all).listening).toBe('vosk');
  });

  it('never credited a critical step falsely, fell behind, or was measured with other models', () => {
    for (const worse of [{ wrongCritical: 1 }, { settled: 9 }, { settled: null }, { name: 'vosk/b' }])
      expect(bestOf([trial('moonshine'), trial('vosk', { right: 18, ...worse })], all).listening).toBe(
        'moonshine',
      );
  });

  it('is always something that may be used', () => {
    const trials = fc.array(
      fc.record({
        listening: fc.constantFrom(...LISTENING),
        name: fc.constantFrom('moonshine/a', 'vosk/a', 'both/a', 'vosk/b'),
        at: fc.constant('2026-11-26T10:00:00.000Z'),
        right: fc.nat(18),
        of: fc.constant(18),
        wrong: fc.nat(3),
        wrongCritical: fc.nat(1),
        tick: fc.option(fc.double({ min: -2, max: 9, noNaN: true })),
        settled: fc.option(fc.double({ min: 0, max: 9, noNaN: true })),
        bytes: fc.option(fc.nat()),
      }),
    );
    fc.assert(
      fc.property(trials, fc.subarray([...LISTENING]), (list, usable) => {
        list.forEach((each) => TrialSchema.parse(each));
        const best = bestOf(list, new Map(usable.map((choice) => [choice, `${choice}/a`])));
        if (best.trial) expect(usable).toContain(best.listening);
        else expect(best.listening).toBe(USUAL);
      }),
    );
  });
});
