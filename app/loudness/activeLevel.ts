/**
 * Levels of sound as the speech benchmark mixes by, so that a measured distance between voice and tap means the same here and there.
 * Pure: samples are mono, −1…1 at 16 kHz; levels are dB relative to full scale (dBov).
 */

/** Samples of one frame, and frames a second: 10 ms. */
export const FRAME = 160;
export const FRAMES_PER_SECOND = 100;

/** How far, in dB, the threshold lies under the active level; the margin of ITU-T P.56, method B. */
const MARGIN = 15.9;

/** Nothing quieter, in dBov, is called active; nor is any noise called quieter: it is about one step of 16-bit sound. */
export const FLOOR = -90;

/** Mean power of each frame; the last one may be shorter. */
export function framePowers(samples: Float32Array): number[] {
  const powers: number[] = [];
  for (let at = 0; at < samples.length; at += FRAME) {
    const frame = samples.subarray(at, at + FRAME);
    powers.push(frame.reduce((sum, s) => sum + s * s, 0) / frame.length);
  }
  return powers;
}

/** dBov of a power; −Infinity for none. */
export function decibelsOf(power: number): number {
  return 10 * Math.log10(power);
}

/** Power of a level in dBov. */
export function powerOf(level: number): number {
  return 10 ** (level / 10);
}

/**
 * The level of speech while somebody speaks, in dBov: pauses do not lower it. The idea of ITU-T P.56, method B, simplified: the
 * active level is the mean power of all frames above a threshold that lies 15.9 dB under that very level. Frames of 10 ms stand in
 * for the recommendation's smoothed envelope and hangover, so that results are close to, not equal to, a conforming meter's.
 * −Infinity for silence.
 */
export function activeLevelOf(framePowers: readonly number[]): number {
  const powers = framePowers.filter((p) => decibelsOf(p) > FLOOR);
  powers.sort((a, b) => b - a);
  let sum = 0;
  let level = -Infinity;
  for (const [i, power] of powers.entries()) {
    // Loudest frames first: take frames in until the next one lies under the threshold that the level so far sets.
    if (decibelsOf(power) < level - MARGIN) break;
    sum += power;
    level = decibelsOf(sum / (i + 1));
  }
  return level;
}
