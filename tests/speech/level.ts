import { SAMPLE_RATE } from '../../app/listening/listener.ts';

/** 10 ms. */
const FRAME = SAMPLE_RATE / 100;

/** How far, in dB, the threshold lies under the active level; the margin of ITU-T P.56, method B. */
const MARGIN = 15.9;

/** Nothing quieter, in dBov, is called active. */
const FLOOR = -90;

/**
 * The level of speech while somebody speaks, in dB relative to full scale (dBov): pauses do not lower it. The idea of ITU-T
 * P.56, method B, simplified: the active level is the mean power of all frames above a threshold that lies 15.9 dB under
 * that very level. Frames of 10 ms stand in for the recommendation's smoothed envelope and hangover, so that results are
 * close to, not equal to, a conforming meter's. −Infinity for silence.
 */
export function activeLevel(samples: Float32Array): number {
  const powers = framePowers(samples).filter((p) => decibels(p) > FLOOR);
  powers.sort((a, b) => b - a);
  let sum = 0;
  let level = -Infinity;
  for (const [i, power] of powers.entries()) {
    // Loudest frames first: take frames in until the next one lies under the threshold that the level so far sets.
    if (decibels(power) < level - MARGIN) break;
    sum += power;
    level = decibels(sum / (i + 1));
  }
  return level;
}

/** Mean power of all samples, in dBov. */
export function meanLevel(samples: Float32Array): number {
  let sum = 0;
  for (const s of samples) sum += s * s;
  return decibels(sum / samples.length);
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

function framePowers(samples: Float32Array): number[] {
  const powers: number[] = [];
  for (let at = 0; at < samples.length; at += FRAME) {
    const frame = samples.subarray(at, at + FRAME);
    powers.push(frame.reduce((sum, s) => sum + s * s, 0) / frame.length);
  }
  return powers;
}

function decibels(power: number): number {
  return 10 * Math.log10(power);
}
