import { SAMPLE_RATE } from '../../app/listening/listener.ts';
import { amplify } from './level.ts';
import type { Line, Narration } from './narration.ts';
import { concatenate } from './sound.ts';
import { prepare, say, VOICES, type Saying, type VoiceId } from './voices.ts';

/** A line with where its sound lies in the recording, in seconds; the voice's own silence is not part of it. */
export interface PlacedLine extends Line {
  readonly start: number;
  readonly end: number;
}

/** A script spoken, and what is true of it by construction. */
export interface Spoken {
  /** Mono, −1…1 at 16 kHz. */
  readonly samples: Float32Array;
  readonly lines: readonly PlacedLine[];
  /** Seconds by clock: the longest go, holds left out. */
  readonly clocks: ReadonlyMap<string, number>;
  /** Repetitions by step. */
  readonly counts: ReadonlyMap<string, number>;
  /** The number said, by the step whose reading it is. */
  readonly readings: ReadonlyMap<string, number>;
}

type Script = Pick<Narration, 'id' | 'lines'>;

/** Seconds of silence before the first and after the last line. */
const EDGE = 1;
/** How much softer, in dB, a second person is: they stand further from the microphone. */
const OTHER_SOFTER = 3;
/** A clock's last words must leave at least so many seconds of silence before the next line, or the label is wrong. */
const LEAST_FILL = 0.3;

/** Everything a voice has to say for these scripts, for {@link prepare}. */
export function sayingsOf(scripts: readonly Script[], voice: VoiceId): Saying[] {
  return scripts.flatMap(({ lines }) =>
    lines.map((line) => ({ voice: voiceOf(line, voice), text: line.say })),
  );
}

/**
 * Speaks a script. The same script and voice give the same samples and the same truth, always.
 *
 * @throws {Error} a line `fills` a clock that does not run or that the talk has overrun already
 */
export async function synthesize(script: Script, voice: VoiceId): Promise<Spoken> {
  await prepare(sayingsOf([script], voice));
  const pieces = [silence(EDGE)];
  let length = pieces[0]!.length;
  const add = (piece: Float32Array): void => {
    pieces.push(piece);
    length += piece.length;
  };
  const clocks = new Stopwatches();
  const lines: PlacedLine[] = [];
  for (const line of script.lines) {
    const start = length / SAMPLE_RATE;
    const spoken = await say({ voice: voiceOf(line, voice), text: line.say });
    add(line.by === 'other' ? amplify(spoken, -OTHER_SOFTER) : spoken);
    const end = length / SAMPLE_RATE;
    lines.push({ ...line, start, end });
    if (line.holds) clocks.stop(line.holds, start, false);
    if (line.stops) clocks.stop(line.stops, start, true);
    if (line.starts) clocks.start(line.starts, end);
    if (line.resumes) clocks.start(line.resumes, end);
    add(silence(line.fills ? clocks.until(line.fills, end, `${script.id}, "${line.say}"`) : line.pause));
  }
  add(silence(EDGE));
  const counts = new Map<string, number>();
  for (const [step, n] of lines.flatMap((line) => Object.entries(line.counts)))
    counts.set(step, (counts.get(step) ?? 0) + n);
  return {
    samples: concatenate(pieces),
    lines,
    clocks: clocks.longest(),
    counts,
    readings: new Map(
      lines.flatMap(({ credits, reading }) =>
        reading === undefined ? [] : credits.map((step) => [step, reading] as const),
      ),
    ),
  };
}

function voiceOf(line: Line, voice: VoiceId): VoiceId {
  return line.by === 'other' ? VOICES[voice].other : voice;
}

function silence(seconds: number): Float32Array {
  return new Float32Array(Math.round(seconds * SAMPLE_RATE));
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
