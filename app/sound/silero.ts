import { SAMPLE_RATE } from './sampleRate.ts';
import { floats, openModel, ort, output } from '../inference/runtime.ts';

/** Samples of one frame: what Silero v5 was trained on at 16 kHz. */
export const FRAME_SAMPLES = 512;

/** Seconds of one frame: 32 ms. */
export const FRAME_SECONDS = FRAME_SAMPLES / SAMPLE_RATE;

/** Samples of the frame before that the model wants in front of each frame. */
const CONTEXT = 64;
const STATE = [2, 1, 128];

/** Silero's voice activity model, version 5: the probability that a frame holds speech. Remembers the frames before. */
export class Silero {
  private state = new ort.Tensor('float32', new Float32Array(256), STATE);
  private readonly input = new Float32Array(CONTEXT + FRAME_SAMPLES);
  private readonly rate = new ort.Tensor('int64', BigInt64Array.of(BigInt(SAMPLE_RATE)), []);

  private constructor(private readonly session: ort.InferenceSession) {}

  /** @throws {Error} the bytes are no model */
  static async open(model: Uint8Array): Promise<Silero> {
    return new Silero(await openModel(model));
  }

  /** Forgets all sound heard so far. */
  reset(): void {
    this.state = new ort.Tensor('float32', new Float32Array(256), STATE);
    this.input.fill(0);
  }

  /** 0–1 for the next {@link FRAME_SAMPLES} samples, −1…1 at 16 kHz. */
  async probability(frame: Float32Array): Promise<number> {
    this.input.copyWithin(0, FRAME_SAMPLES);
    this.input.set(frame, CONTEXT);
    const outputs = await this.session.run({
      input: new ort.Tensor('float32', this.input, [1, this.input.length]),
      state: this.state,
      sr: this.rate,
    });
    const state = output(outputs, 'stateN');
    this.state = new ort.Tensor('float32', floats(outputs, 'stateN'), state.dims);
    return floats(outputs, 'output')[0] ?? NaN;
  }
}
