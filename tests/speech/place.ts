import type { Line, Narration } from './narration.ts';

/** A line with where it lies in the recording, in seconds; the voice's own silence is not part of it. */
export interface PlacedLine extends Line {
  readonly start: number;
  readonly end: number;
}

/** What is true of a script by construction, once it is known how long each line takes. */
export interface Truth {
  readonly lines: readonly PlacedLine[];
  /** Seconds by clock: the longest go, holds left out. */
  readonly clocks: ReadonlyMap<string, number>;
  /** Repetitions by step. */
  readonly counts: ReadonlyMap<string, number>;
  /** The number said, by the step whose reading it is. */
  readonly readings: ReadonlyMap<string, number>;
}

export type Script = Pick<Narration, 'id' | 'lines'>;

/** Seconds of silence before the first and after the last line. */
export const EDGE = 1;
/** A clock's last words must leave at least so many seconds of silence before the next line, or the label is wrong. */
const LEAST_FILL = 0.3;

/**
 * Puts a script's lines one after the other.
 *
 * @param takes seconds that each line takes
 * @returns also the seconds of silence after each line
 * @throws {Error} a line `fills` a clock that does not run or that the talk has overrun already
 */
export function place(script: Script, takes: readonly number[]): Truth & { readonly gaps: number[] } {
  const clocks = new Stopwatches();
  const gaps: number[] = [];
  let now = EDGE;
  const lines = script.lines.map((line, i): PlacedLine => {
    const [start, end] = [now, now + takes[i]!];
    if (line.holds) clocks.stop(line.holds, start, false);
    if (line.stops) clocks.stop(line.stops, start, true);
    if (line.starts) clocks.start(line.starts, end);
    if (line.resumes) clocks.start(line.resumes, end);
    const gap = line.fills ? clocks.until(line.fills, end, `${script.id}, "${line.say}"`) : line.pause;
    gaps.push(gap);
    now = end + gap;
    return { ...line, start, end };
  });
  const counts = new Map<string, number>();
  for (const [step, n] of lines.flatMap((line) => Object.entries(line.counts)))
    counts.set(step, (counts.get(step) ?? 0) + n);
  const readings = lines.flatMap(({ credits, reading }) =>
    reading === undefined ? [] : credits.map((step) => [step, reading] as const),
  );
  return { lines, gaps, clocks: clocks.longest(), counts, readings: new Map(readings) };
}

/** The labels' own clocks, written apart from the program's. */
class Stopwatches {
  private readonly clocks = new Map<string, { since: number | null; sum: number; longest: number }>();

  start(id: string, at: number): void {
    const clock = this.clocks.get(id) ?? { since: null, sum: 0, longest: 0 };
    this.clocks.set(id, { ...clock, since: clock.since ?? at });
  }

  stop(id: string, at: number, ends: boolean): void {
    const clock = this.clocks.get(id);
    if (!clock) throw new Error(`the clock "${id}" is stopped and was never started`);
    const sum = clock.sum + (clock.since === null ? 0 : at - clock.since);
    this.clocks.set(id, { since: null, sum: ends ? 0 : sum, longest: Math.max(clock.longest, sum) });
  }

  /** Seconds from `now` until the clock shows what it is to be filled to. */
  until(fills: Readonly<Record<string, number>>, now: number, where: string): number {
    const [id, target] = Object.entries(fills)[0]!;
    const clock = this.clocks.get(id);
    if (!clock || clock.since === null) throw new Error(`${where}: the clock "${id}" does not run`);
    const gap = target - (clock.sum + now - clock.since);
    if (gap < LEAST_FILL) throw new Error(`${where}: ${gap.toFixed(2)} s are left to fill up to ${target} s`);
    return gap;
  }

  longest(): Map<string, number> {
    return new Map([...this.clocks].map(([id, clock]) => [id, clock.longest]));
  }
}
