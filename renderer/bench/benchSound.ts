import type { Samples } from '../../app/bench/sound.ts';

/** Samples a second of the bench's sounds: nothing in them lies above 2 kHz. */
export const BENCH_RATE = 16_000;

/** How long the phone or tablet vibrates for a beat or a breath, in milliseconds. */
const BUZZ = 60;

/** Plays the bench's sounds, each at its own moment. */
export class BenchSound {
  private context: AudioContext | null = null;

  /** To be called on a key or a click, before which browsers stay silent. */
  open(): void {
    this.context ??= new AudioContext({ latencyHint: 'interactive' });
    void this.context.resume();
  }

  /** @param at when it is to be heard, in milliseconds of `performance.now` */
  play(samples: Samples, at: number): void {
    const { context } = this;
    if (!context) return;
    const buffer = context.createBuffer(1, samples.length, BENCH_RATE);
    buffer.copyToChannel(samples, 0);
    const source = new AudioBufferSourceNode(context, { buffer });
    source.connect(context.destination);
    source.start(Math.max(context.currentTime, contextTimeOf(context, at)));
  }

  async close(): Promise<void> {
    await this.context?.close();
    this.context = null;
  }
}

/** The context's time of what is heard at a moment of the page's clock; where the browser cannot tell, its time as of now. */
function contextTimeOf(context: AudioContext, at: number): number {
  const { contextTime = 0, performanceTime = 0 } = context.getOutputTimestamp();
  if (performanceTime > 0) return contextTime + (at - performanceTime) / 1000;
  return context.currentTime + (at - performance.now()) / 1000;
}

/** Whether this device has a motor to vibrate with, as far as the browser tells. */
export const canVibrate = (): boolean =>
  typeof navigator.vibrate === 'function' && matchMedia('(pointer: coarse)').matches;

/** Vibrates at a moment of the page's clock. */
export function vibrateAt(at: number): void {
  setTimeout(() => navigator.vibrate(BUZZ), Math.max(0, at - performance.now()));
}
