import { SAMPLE_RATE } from './sampleRate.ts';

/**
 * Attenuation in dB of what would fold back into the band. 80 dB lies below the noise of any bedside recording; each
 * 10 dB more costs some 14 % more taps.
 */
const STOP_BAND_DB = 80;

/**
 * Where the pass band ends, as a share of the narrower Nyquist frequency: 7.2 kHz of 8. Nearer to 1 the number of
 * taps grows without bound; much below 0.9, fricatives lose their upper edge.
 */
const PASS_BAND = 0.9;

/**
 * Changes the sampling rate of a stream by a windowed-sinc filter in polyphase form: rate × L / M, with one set of
 * taps for each of the L positions an output sample can have between two input samples. The filter is symmetrical
 * about the output's instant, so nothing is delayed. The Kaiser window's shape and length follow Kaiser's formulas
 * (Oppenheim and Schafer, Discrete-Time Signal Processing, "FIR filter design by the Kaiser window method").
 */
export class Resampler {
  readonly #up: number;
  readonly #down: number;
  /** Input samples on each side of an output's instant. */
  readonly #half: number;
  /** L rows of 2·half taps. */
  readonly #taps: Float64Array;
  /** Input not used up yet; begins with silence, so that the first output has its left side. */
  #held: Float64Array;
  /** Index into `#held` of the input sample at or just before the next output, and its phase in 1/L. */
  #at: number;
  #phase = 0;
  #fed = 0;
  #given = 0;

  /** Rates in samples a second, whole numbers above 0. Rates that share no factor cost up to 16 000 rows of taps. */
  constructor(from: number, to: number = SAMPLE_RATE) {
    const shared = greatestCommonDivisor(from, to);
    this.#up = to / shared;
    this.#down = from / shared;
    const nyquist = Math.min(from, to) / 2;
    const transition = (2 * Math.PI * (1 - PASS_BAND) * nyquist) / from;
    const length = (STOP_BAND_DB - 7.95) / (2.285 * transition);
    this.#half = Math.ceil(length / 2) + 1;
    const cutoff = ((1 + PASS_BAND) * nyquist) / from;
    this.#taps = kaiserSinc(this.#up, this.#half, cutoff);
    this.#held = new Float64Array(this.#half - 1);
    this.#at = this.#half - 1;
  }

  /** Takes any number of samples and gives those outputs that have all their input. */
  push(samples: Float32Array): Float32Array {
    this.#fed += samples.length;
    const input = new Float64Array(this.#held.length + samples.length);
    input.set(this.#held);
    input.set(samples, this.#held.length);
    const ready =
      Math.floor(((input.length - this.#half - 1 - this.#at) * this.#up - this.#phase) / this.#down) + 1;
    const output = new Float32Array(Math.max(0, ready));
    const taps = this.#taps;
    const width = 2 * this.#half;
    for (let n = 0; n < output.length; n++) {
      const row = this.#phase * width;
      const first = this.#at - this.#half + 1;
      // Two sums, so that one addition need not wait for the other: a quarter less time. Doubles save as much
      // again, since nothing is converted. `ready` keeps every index within.
      let even = 0;
      let odd = 0;
      for (let k = 0; k < width; k += 2) {
        even += input[first + k]! * taps[row + k]!; // within
        odd += input[first + k + 1]! * taps[row + k + 1]!; // within
      }
      output[n] = even + odd;
      this.#phase += this.#down;
      this.#at += Math.floor(this.#phase / this.#up);
      this.#phase %= this.#up;
    }
    const used = Math.min(Math.max(0, this.#at - this.#half + 1), input.length);
    this.#held = input.slice(used);
    this.#at -= used;
    this.#given += output.length;
    return output;
  }

  /** Gives what is left, as if silence followed. In all, ceil(fed · to / from) samples come out. */
  end(): Float32Array {
    const due = Math.ceil((this.#fed * this.#up) / this.#down) - this.#given;
    return this.push(new Float32Array(2 * this.#half + this.#down)).subarray(0, Math.max(0, due));
  }
}

/** Rows of taps: the sinc of `cutoff` (a share of the input's Nyquist frequency) under a Kaiser window. */
function kaiserSinc(rows: number, half: number, cutoff: number): Float64Array {
  const beta = 0.1102 * (STOP_BAND_DB - 8.7);
  const taps = new Float64Array(rows * 2 * half);
  for (let row = 0; row < rows; row++) {
    let sum = 0;
    for (let k = 0; k < 2 * half; k++) {
      const x = k - half + 1 - row / rows;
      const angle = Math.PI * cutoff * x;
      const sinc = angle === 0 ? 1 : Math.sin(angle) / angle;
      const inside = Math.max(0, 1 - (x / half) ** 2);
      const tap = sinc * (bessel0(beta * Math.sqrt(inside)) / bessel0(beta));
      taps[row * 2 * half + k] = tap;
      sum += tap;
    }
    // Each row passes a constant unchanged; otherwise the rows' slight differences would be heard as a whine.
    for (let k = 0; k < 2 * half; k++) taps[row * 2 * half + k]! /= sum; // within
  }
  return taps;
}

/** Modified Bessel function of the first kind, order 0, by its power series. */
function bessel0(x: number): number {
  let sum = 1;
  let term = 1;
  for (let k = 1; term > sum * 1e-12; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

function greatestCommonDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestCommonDivisor(b, a % b);
}
