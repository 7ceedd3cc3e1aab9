import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { RehearsalEvent } from '../marking/events.ts';
import { utteranceOf } from '../language/utterance.ts';
import { LoudnessWatch } from './watch.ts';

const RATE = 16_000;

/** Sound whose level follows a list of seconds and levels in dBov: an alternating sign has the power of its square. */
function sound(...parts: readonly (readonly [seconds: number, level: number])[]): Float32Array {
  return Float32Array.from(
    parts.flatMap(([seconds, level]) =>
      Array.from({ length: seconds * RATE }, (_, i) => (i % 2 === 0 ? 1 : -1) * 10 ** (level / 20)),
    ),
  );
}

let ids = 0;
const utterance = (start: number, end: number) => utteranceOf({ id: ids++, text: 'some words', start, end });
const heard = (start: number, end: number): RehearsalEvent => ({
  type: 'heard',
  utterance: utterance(start, end),
  used: [],
});
const echo = (start: number, end: number): RehearsalEvent => ({
  type: 'aside',
  utterance: utterance(start, end),
  why: 'echo',
});

describe('the watch over loudness', () => {
  it('tells the noise between sayings and the voice of each', () => {
    const watch = new LoudnessWatch();
    watch.feed(sound([3, -50], [2, -30], [4, -40], [2, -30], [3, -40]));
    const told = [...watch.take([heard(3, 5), heard(9, 11)]), ...watch.end()];
    expect(told.map(({ of, level }) => `${of} ${Math.round(level)}`)).toEqual([
      'noise -50', 'speech -30', 'noise -40', 'speech -30', 'noise -40',
    ]); // prettier-ignore
    expect(told[2]).toMatchObject({ from: 5.3, to: 8.7 });
    expect(told[4]?.to).toBeCloseTo(14, 5);
  });

  it('takes the noise off the voice', () => {
    const watch = new LoudnessWatch();
    watch.feed(sound([3, -40], [2, 10 * Math.log10(10 ** -3 + 10 ** -4)]));
    expect(watch.take([heard(3, 5)])[1]?.level).toBeCloseTo(-30, 3);
  });

  it('parts a long gap, so that a tap that was opened in it shows', () => {
    const watch = new LoudnessWatch();
    watch.feed(sound([10, -60], [10, -30], [1, -20]));
    const noises = watch.take([heard(20, 21)]).filter(({ of }) => of === 'noise');
    expect(noises.map(({ level }) => Math.round(level))).toEqual([-60, -60, -30, -30]);
  });

  it('counts the coach neither as noise nor as the trainee', () => {
    const watch = new LoudnessWatch();
    watch.feed(sound([2, -60], [2, -20], [3, -60], [1, -25]));
    const told = watch.take([{ type: 'spoke', text: 'a', from: 2, to: 4 }, echo(2, 4), heard(7, 8)]);
    expect(told.map(({ of, level }) => `${of} ${Math.round(level)}`)).toEqual([
      'noise -60',
      'noise -60',
      'speech -25',
    ]);
    const unheard = new LoudnessWatch();
    unheard.feed(sound([2, -60], [2, -20], [1, -60], [1, -25]));
    const [noise] = unheard.take([{ type: 'spoke', text: 'a', from: 2, to: 4 }, heard(5, 6)]);
    expect(noise?.level).toBeCloseTo(-60, 3);
  });

  it('goes on where a recording was broken off', () => {
    const watch = new LoudnessWatch(100);
    watch.feed(sound([3, -50], [2, -30]));
    expect(watch.take([heard(103, 105)])).toMatchObject([
      { of: 'noise', from: 100.3, to: 102.7 },
      { of: 'speech', from: 103, to: 105 },
    ]);
  });

  it('tells the same in whatever pieces the sound comes, in order, without overlap', () => {
    const all = sound([2, -50], [1, -30], [1.5, -45], [2, -28], [1, -40]);
    const events = [heard(2, 3), heard(2.5, 2.8), heard(4.5, 6.5)];
    const whole = new LoudnessWatch();
    whole.feed(all);
    const expected = [...whole.take(events), ...whole.end()];
    for (const [i, each] of expected.entries())
      expect(each.from).toBeGreaterThanOrEqual(expected[i - 1]?.to ?? 0);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 20_000 }), { minLength: 1, maxLength: 20 }), (sizes) => {
        const watch = new LoudnessWatch();
        let at = 0;
        for (const size of sizes) {
          watch.feed(all.subarray(at, at + size));
          at += size;
        }
        watch.feed(all.subarray(at));
        expect([...watch.take(events), ...watch.end()]).toEqual(expected);
      }),
      { numRuns: 20 },
    );
  });

  it('tells nothing of sound that was never fed', () => {
    expect(new LoudnessWatch().take([heard(3, 5)])).toEqual([]);
    expect(new LoudnessWatch().end()).toEqual([]);
  });
});
