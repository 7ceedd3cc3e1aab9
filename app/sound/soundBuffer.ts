import { SAMPLE_RATE } from './sampleRate.ts';

/** The latest sound, addressed by seconds since its beginning. */
export class SoundBuffer {
  private samples = new Float32Array(SAMPLE_RATE * 8);
  /** Where in `samples` the first sample still held lies: what was let go of before it is moved over only when room is needed. */
  private at = 0;
  /** Position of the first sample still held, and one past the last, both counted from the beginning. */
  private first = 0;
  private last = 0;

  /** Seconds appended so far. */
  get seconds(): number {
    return this.last / SAMPLE_RATE;
  }

  append(samples: Float32Array): void {
    const held = this.last - this.first;
    if (this.at + held + samples.length > this.samples.length) {
      const isLarge = 2 * (held + samples.length) <= this.samples.length;
      const room = isLarge ? this.samples : new Float32Array(2 * (held + samples.length));
      room.set(this.samples.subarray(this.at, this.at + held));
      this.samples = room;
      this.at = 0;
    }
    this.samples.set(samples, this.at + held);
    this.last += samples.length;
  }

  /** Lets go of what lies before. */
  dropBefore(seconds: number): void {
    const drop = Math.min(this.last, Math.round(seconds * SAMPLE_RATE)) - this.first;
    if (drop <= 0) return;
    this.at += drop;
    this.first += drop;
  }

  /** A copy of the sound between two times; shorter where it is not or no longer held. */
  slice(from: number, to: number): Float32Array {
    const position = (seconds: number): number =>
      Math.min(this.last, Math.max(this.first, Math.round(seconds * SAMPLE_RATE))) - this.first + this.at;
    return this.samples.slice(position(from), position(to));
  }

  clear(): void {
    this.first = this.last = this.at = 0;
  }
}
