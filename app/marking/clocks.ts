/**
 * Clocks run from the end of the saying that starts them to the start of the saying that stops them, so that a clock never
 * shows more time than was really spent. Pure: times come in with the moves.
 */

export interface ClockMove {
  /** `doubt`: something unclear was said, which may have stopped the clock; `on`: it is clear that it still ran. */
  readonly move: 'start' | 'on' | 'halt' | 'stop' | 'doubt';
  /** A start that was said as it began: until something shows that it has begun, one said again takes its place. */
  readonly announced?: boolean;
  /** Seconds. */
  readonly at: number;
  /** Half-width in seconds of the interval `at` is believed to lie in. */
  readonly uncertainty: number;
}

/** One go at the timed thing, halts left out. */
export interface Run {
  readonly seconds: number;
  readonly uncertainty: number;
}

export interface Clock {
  /** Since when it runs; null while it stands. */
  readonly running: ClockMove | null;
  /** When the first thing was said since then that may have stopped it; null when nothing was. */
  readonly doubtedFrom: number | null;
  /** The go under way: running, or halted and waiting to go on. */
  readonly run: Run | null;
  /** Goes that have been stopped. */
  readonly done: readonly Run[];
}

export const NEW_CLOCK: Clock = { running: null, doubtedFrom: null, run: null, done: [] };

/**
 * Moves a clock on. A second start while it runs changes nothing, unless the first was only announced; nor does a halt or
 * stop while it stands still.
 */
export function moveClock(clock: Clock, move: ClockMove): Clock {
  const run = clock.run ?? { seconds: 0, uncertainty: 0 };
  const { running, doubtedFrom } = clock;
  if (move.move === 'start')
    return running && !running.announced ? clock : { ...clock, running: move, doubtedFrom: null, run };
  if (!clock.run) return clock;
  if (move.move === 'on')
    return { ...clock, doubtedFrom: null, running: running && { ...running, announced: false } };
  if (move.move === 'doubt') return running ? { ...clock, doubtedFrom: doubtedFrom ?? move.at } : clock;
  // It ended somewhere between what may have stopped it and this: the middle is nearest to both.
  const half = doubtedFrom === null ? 0 : Math.max(0, move.at - doubtedFrom) / 2;
  const added: Run = running
    ? {
        seconds: run.seconds + Math.max(0, move.at - half - running.at),
        uncertainty: run.uncertainty + running.uncertainty + move.uncertainty + half,
      }
    : run;
  if (move.move === 'halt') return { ...clock, running: null, doubtedFrom: null, run: added };
  return { running: null, doubtedFrom: null, run: null, done: [...clock.done, added] };
}

/**
 * Seconds that the go under way has taken at the least, halts left out; null where there is none. What may have stopped
 * the clock is taken to have stopped it.
 */
export function secondsSoFar({ running, run, doubtedFrom }: Clock, now: number): number | null {
  if (!run) return null;
  const since = running ? Math.min(now, doubtedFrom ?? now) - running.at - running.uncertainty : 0;
  return Math.max(0, run.seconds - run.uncertainty + Math.max(0, since));
}

/** The longest go so far that has come to its end, or null. A halted go counts with what it has. */
export function longestRun({ running, run, done }: Clock): Run | null {
  const ended = run && !running ? [...done, run] : done;
  return ended.reduce<Run | null>((best, r) => (best && best.seconds >= r.seconds ? best : r), null);
}

export type ClockVerdict = 'met' | 'short' | 'unclear';

/** Whether a run reached `needed` seconds: only `met` when even its lower bound did, so that 19.5 s never passes for 20. */
export function judgeRun({ seconds, uncertainty }: Run, needed: number): ClockVerdict {
  if (seconds - uncertainty >= needed) return 'met';
  return seconds + uncertainty < needed ? 'short' : 'unclear';
}
