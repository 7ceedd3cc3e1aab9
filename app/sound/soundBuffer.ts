import { SAMPLE_RATE } from './sampleRate.ts';

/** The latest sound, addressed by seconds since its beginning. */
export class SoundBuffer {
  private samples = new Float32Array(SAMPLE_RATE * 8);
  /** Position of the first sample still held, and one past the last, both counted from the beginning. */
  private first = 0;
  private last = 0;

  /** Seconds appended so far. */
  get seconds(): number {
    return this.last / SAMPLE_RATE;
  }

  append(samples: Float32Array): void {
    const held = this.last - this.first;
    if (held + samples.length > this.samples.length) {
      const larger = new Float32Array(2 * (held + samples.length));
      larger.set(this.samples.subarray(0, held));
      this.samples = larger;
    }
    this.samples.set(samples, held);
    this.last += samples.length;
  }

  /** Lets go of what lies before. */
  dropBefore(seconds: number): void {
    const drop = Math.min(this.last, Math.round(seconds * SAMPLE_RATE)) - this.first;
    if (drop <= 0) return;
    this.samples.copyWithin(0, drop, this.last - this.first);
    this.first += drop;
  }

  /** A copy of the sound between two times; shorter where it is not or no longer held. */
  slice(from: number, to: number): Float32Array {
    const position = (seconds: number): number =>
      Math.min(this.last, Math.max(this.first, Math.round(seconds * SAMPLE_RATE))) - this.first;
    return this.samples.slice(position(from), position(to));
  }

  clear(): void {
    this.first = this.last = 0;
  }
}
