import type { Loudness, RehearsalEvent } from '../marking/events.ts';
import type { Stretch } from '../marking/state.ts';
import { FRAME, framePowers, FRAMES_PER_SECOND } from './activeLevel.ts';
import { noiseLevel, speechLevelOver } from './signalToNoise.ts';

/**
 * Seconds left out around a saying: the detector finds a beginning 0.03 s late and an end up to 0.23 s late, and a word's first sound may be
 * soft. Less, and voices count as noise; much more, and short gaps tell nothing.
 */
const MARGIN = 0.3;

/** Longest stretch of noise told as one, seconds: a tap is opened and closed within this. */
const LONGEST = 5;

/**
 * Watches how loud the noise between sayings is, and the voice beside it, while a recording goes on. Sound and events are passed in; what it
 * measures comes out as events. Sound may run ahead of the events by any time: a piece is kept until it is measured, some 100 numbers a second.
 */
export class LoudnessWatch {
  /** Powers of frames not yet measured. */
  private powers: number[] = [];
  /** Samples that do not fill a frame yet. */
  private rest = new Float32Array(0);
  /** Index in the recording of the first of `powers`. */
  private first: number;
  /** Up to when all is measured. */
  private until: number;
  /** When the coach spoke since then. */
  private coach: Stretch[] = [];
  /** Level of the noise that was measured last, dBov. */
  private noise: number | null = null;

  /** @param from seconds of the recording at which the sound begins that is fed */
  constructor(from = 0) {
    this.first = Math.round(from * FRAMES_PER_SECOND);
    this.until = from;
  }

  /** Takes the next samples, mono, −1…1 at 16 kHz, any number of them. */
  feed(samples: Float32Array): void {
    const all = new Float32Array(this.rest.length + samples.length);
    all.set(this.rest);
    all.set(samples, this.rest.length);
    const whole = all.length - (all.length % FRAME);
    for (const power of framePowers(all.subarray(0, whole))) this.powers.push(power);
    this.rest = all.slice(whole);
  }

  /**
   * Takes what happened, and tells how loud it was up to the end of the latest saying. The sound up to there must have been fed; what was not is left out.
   * The coach's own words count neither as noise nor as the trainee's voice.
   */
  take(events: readonly RehearsalEvent[]): Loudness[] {
    return events.flatMap((event): Loudness[] => {
      if (event.type === 'spoke') {
        if (event.to > event.from)
          this.coach = [...this.coach.filter(({ from }) => from !== event.from), event];
        return [];
      }
      if (event.type !== 'heard' && event.type !== 'aside') return [];
      const { start, end } = event.utterance;
      const noise = this.noiseUntil(start);
      const isOurs = event.type === 'aside' && event.why === 'echo';
      const speech = isOurs ? [] : this.speechOf(Math.max(start, this.until), end);
      this.measuredUntil(end);
      return [...noise, ...speech];
    });
  }

  /** Tells how loud it was after the latest saying. The watch is over with it. */
  end(): Loudness[] {
    const end = (this.first + this.powers.length) / FRAMES_PER_SECOND + MARGIN;
    const noise = this.noiseUntil(end);
    this.measuredUntil(end);
    return noise;
  }

  /** The noise from what is measured up to a saying, in stretches of equal length. */
  private noiseUntil(start: number): Loudness[] {
    const from = this.until === 0 ? 0 : this.until + MARGIN;
    const to = start - MARGIN;
    const parts = Math.ceil((to - from) / LONGEST);
    const each = (to - from) / parts;
    return Array.from({ length: Math.max(0, parts) }, (_, i): Stretch => {
      return { from: from + i * each, to: from + (i + 1) * each };
    }).flatMap((stretch): Loudness[] => {
      const level = noiseLevel(this.between(stretch, this.coach));
      if (level === null) return [];
      this.noise = level;
      return [{ type: 'loudness', of: 'noise', ...stretch, level }];
    });
  }

  /** The voice in a saying; nothing before any noise is known. */
  private speechOf(from: number, to: number): Loudness[] {
    const level = this.noise === null ? null : speechLevelOver(this.between({ from, to }, []), this.noise);
    return level === null ? [] : [{ type: 'loudness', of: 'speech', from, to, level }];
  }

  /** Powers of the frames of a stretch that lie in none of some others. */
  private between({ from, to }: Stretch, without: readonly Stretch[]): number[] {
    const begin = Math.max(0, Math.ceil(from * FRAMES_PER_SECOND) - this.first);
    const frames = this.powers.slice(begin, Math.max(0, Math.floor(to * FRAMES_PER_SECOND) - this.first));
    return frames.filter((_, i) => {
      const at = (this.first + begin + i) / FRAMES_PER_SECOND;
      return !without.some((other) => other.from - MARGIN <= at && at < other.to + MARGIN);
    });
  }

  private measuredUntil(at: number): void {
    this.until = Math.max(this.until, at);
    const gone = Math.min(this.powers.length, Math.floor(this.until * FRAMES_PER_SECOND) - this.first);
    if (gone <= 0) return;
    this.powers.splice(0, gone);
    this.first += gone;
    this.coach = this.coach.filter(({ to }) => to + MARGIN > this.until);
  }
}
