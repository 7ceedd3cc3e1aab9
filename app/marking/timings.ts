import { moveClock, NEW_CLOCK, type Clock, type ClockMove } from './clocks.ts';

/** The clocks of a rehearsal by their step, and when they ran. */
export interface Timings {
  readonly clocks: Readonly<Record<string, Clock>>;
  /** In order; `to` is null while one runs. */
  readonly timings: readonly Timing[];
}

/** A stretch in which a step's clock ran, seconds of the recording. */
export interface Timing {
  readonly step: string;
  readonly from: number;
  readonly to: number | null;
  /** Half-width in seconds of the interval `from` is believed to lie in. */
  readonly uncertainty: number;
}

/** Moves a step's clock, and keeps when it ran. */
export function moveOn({ clocks, timings }: Timings, step: string, move: ClockMove): Timings {
  const was = clocks[step] ?? NEW_CLOCK;
  const is = moveClock(was, move);
  return { clocks: { ...clocks, [step]: is }, timings: runsAfter(timings, step, was, is, move.at) };
}

function runsAfter(
  timings: readonly Timing[],
  step: string,
  was: Clock,
  is: Clock,
  at: number,
): readonly Timing[] {
  const isOpen = (timing: Timing): boolean => timing.step === step && timing.to === null;
  const isSame = (was.running === null) === (is.running === null) && was.running?.at === is.running?.at;
  if (isSame) return timings;
  if (is.running === null) return timings.map((t) => (isOpen(t) ? { ...t, to: Math.max(t.from, at) } : t));
  // One that was only announced begins later.
  const begun = { step, from: at, to: null, uncertainty: is.running.uncertainty };
  return [...timings.filter((t) => !isOpen(t)), begun];
}

/**
 * The clocks as a pause leaves them: every go under way ended when the pause began, at `at` seconds. It keeps the time it had and does
 * not go on after the pause, however short: nobody heard what the hands did meanwhile, and twenty seconds of rubbing in two halves
 * with a telephone call between them are not twenty seconds. The trainee says the start again, and the longest go counts.
 *
 * Done when the pause is over, not when it begins: what was said before it may still be in recognition, and stop a clock
 * earlier.
 */
export const stopAll = (timings: Timings, at: number): Timings =>
  Object.keys(timings.clocks).reduce(
    (now, step) => moveOn(now, step, { move: 'stop', at, uncertainty: 0 }),
    timings,
  );
