import { activeLevelOf, decibelsOf, FRAME, framePowers } from '../../app/loudness/activeLevel.ts';

/** The level of speech while somebody speaks, in dBov, as the program itself measures it. −Infinity for silence. */
export function activeLevel(samples: Float32Array): number {
  return activeLevelOf(framePowers(samples));
}

/** Mean power of all samples, in dBov. */
export function meanLevel(samples: Float32Array): number {
  let sum = 0;
  for (const s of samples) sum += s * s;
  return decibelsOf(sum / samples.length);
}

/** A copy made louder by so many dB. */
export function amplify(samples: Float32Array, gain: number): Float32Array {
  const factor = 10 ** (gain / 20);
  return samples.map((s) => s * factor);
}

/**
 * Cuts a synthesiser's own silence off both ends: frames quieter than `below` dB under the loudest one. 45 dB keeps the
 * faintest fricatives of the corpus's voices; at 30 dB initial "f" and "h" are lost.
 */
export function trimSilence(samples: Float32Array, below = 45): Float32Array {
  const powers = framePowers(samples);
  const threshold = Math.max(...powers) * 10 ** (-below / 10);
  const first = powers.findIndex((p) => p > threshold);
  const last = powers.findLastIndex((p) => p > threshold);
  return first < 0 ? new Float32Array(0) : samples.slice(first * FRAME, (last + 1) * FRAME);
}
