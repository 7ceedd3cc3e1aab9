import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeRun, longestRun, moveClock, NEW_CLOCK, type ClockMove } from './clocks.ts';

const moves = fc
  .array(
    fc.record({
      move: fc.constantFrom<ClockMove['move']>('start', 'halt', 'stop'),
      step: fc.double({ min: 0, max: 30, noNaN: true }),
      uncertainty: fc.double({ min: 0, max: 0.5, noNaN: true }),
    }),
    { maxLength: 30 },
  )
  .map((list) => {
    let at = 0;
    return list.map(({ move, step, uncertainty }): ClockMove => ({ move, at: (at += step), uncertainty }));
  });

describe('a clock', () => {
  it('never shows more time than has passed, nor less than none', () => {
    fc.assert(
      fc.property(moves, (list) => {
        const run = longestRun(list.reduce(moveClock, NEW_CLOCK));
        if (!run) return;
        expect(run.seconds).toBeGreaterThanOrEqual(0);
        expect(run.seconds).toBeLessThanOrEqual((list.at(-1)?.at ?? 0) - (list[0]?.at ?? 0) + 1e-9);
      }),
    );
  });

  it('does not mind a move said twice', () => {
    fc.assert(
      fc.property(moves, (list) => {
        const doubled = list.flatMap((m) => [m, m]).reduce(moveClock, NEW_CLOCK);
        expect(doubled).toEqual(list.reduce(moveClock, NEW_CLOCK));
      }),
    );
  });

  it('adds what lies on both sides of a halt and leaves the halt out', () => {
    const at = (move: ClockMove['move'], t: number): ClockMove => ({ move, at: t, uncertainty: 0.1 });
    const clock = [at('start', 10), at('halt', 22), at('start', 30), at('stop', 39)].reduce(
      moveClock,
      NEW_CLOCK,
    );
    expect(longestRun(clock)).toEqual({ seconds: 21, uncertainty: 0.4 });
  });

  it('takes the longest go, not the sum of several', () => {
    const at = (move: ClockMove['move'], t: number): ClockMove => ({ move, at: t, uncertainty: 0 });
    const clock = [at('start', 0), at('stop', 12), at('start', 20), at('stop', 35)].reduce(
      moveClock,
      NEW_CLOCK,
    );
    expect(longestRun(clock)?.seconds).toBe(15);
  });

  it('spans what may have stopped it and what surely did, and no more', () => {
    const at = (move: ClockMove['move'], t: number): ClockMove => ({ move, at: t, uncertainty: 0.1 });
    const clock = [at('start', 0), at('doubt', 12), at('doubt', 15), at('stop', 22)].reduce(
      moveClock,
      NEW_CLOCK,
    );
    const { seconds, uncertainty } = longestRun(clock) ?? { seconds: 0, uncertainty: 0 };
    expect([seconds - uncertainty, seconds + uncertainty]).toEqual([11.8, 22.2]);
    const cleared = [at('start', 0), at('doubt', 12), at('on', 16), at('stop', 22)].reduce(
      moveClock,
      NEW_CLOCK,
    );
    expect(longestRun(cleared)).toEqual({ seconds: 22, uncertainty: 0.2 });
  });
});

describe('a verdict on a run', () => {
  it('is met only where the whole interval is', () => {
    expect(judgeRun({ seconds: 20.5, uncertainty: 0.4 }, 20)).toBe('met');
    expect(judgeRun({ seconds: 20.2, uncertainty: 0.4 }, 20)).toBe('unclear');
    expect(judgeRun({ seconds: 19.5, uncertainty: 0.4 }, 20)).toBe('short');
  });
});
