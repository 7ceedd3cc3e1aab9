import { activeLevelOf, decibelsOf, FLOOR, FRAMES_PER_SECOND, powerOf } from './activeLevel.ts';

/**
 * How far a voice stands over the noise beside it, as the benchmark's `mix` defines it: the active level of the speech alone less the mean
 * level of the noise. Pure: sound comes in as powers of frames of 10 ms (`framePowers`).
 */
export interface SignalToNoise {
  /** Active level of the speech, its noise taken off, dBov. */
  readonly speech: number;
  /** Level of the noise, dBov, at least −90. */
  readonly noise: number;
  /** The one less the other, dB. */
  readonly snr: number;
}

/** Frames of a block for the noise: 0.1 s. A knock or a drop fills few of them. */
const BLOCK = FRAMES_PER_SECOND / 10;

/** Frames of noise and of speech below which nothing is measured: half a second, some two words. */
const LEAST = FRAMES_PER_SECOND / 2;

/**
 * What of a stretch counts as its noise: the blocks up to so many dB above the one that a tenth lie under. Chosen among seven such rules on 5 s of
 * the benchmark's tap: alone it is right within 0 to −1.1 dB; with a saying in it that nobody recognised, 4 s long, 20 to 0 dB over the tap, it is too
 * high by 0.1 to 0.8 dB on average, 1.7 dB at most. The median would be too high by up to 18 dB; 5 dB instead of 4 by up to 2.3.
 */
const SOFTEST = 0.1;
const ABOVE = 4;

/**
 * Level of the noise in a stretch where nobody is known to speak, dBov. A knock, a splash or an unrecognised saying hardly moves it. Null for less
 * than half a second.
 */
export function noiseLevel(powers: readonly number[]): number | null {
  if (powers.length < LEAST) return null;
  const blocks: number[] = [];
  for (let at = 0; at + BLOCK <= powers.length; at += BLOCK) blocks.push(mean(powers.slice(at, at + BLOCK)));
  blocks.sort((a, b) => a - b);
  const most = (blocks[Math.floor(SOFTEST * blocks.length)] ?? 0) * powerOf(ABOVE);
  return Math.max(FLOOR, decibelsOf(mean(blocks.filter((block) => block <= most))));
}

const mean = (values: readonly number[]): number => values.reduce((sum, x) => sum + x, 0) / values.length;

/**
 * Active level of the speech in a stretch of speech and noise, dBov: the noise's power is taken off each frame first. Null for less than
 * half a second, and where nothing stands over the noise.
 *
 * @param noise level of the noise beside it, dBov
 */
export function speechLevelOver(powers: readonly number[], noise: number): number | null {
  if (powers.length < LEAST) return null;
  const level = activeLevelOf(powers.map((power) => Math.max(0, power - powerOf(noise))));
  return Number.isFinite(level) ? level : null;
}

/**
 * Measures a voice beside a noise. Against taps mixed at 20, 10, 5 and 0 dB it is off by 0.1 dB on average and 0.9 dB at most, at 0 dB
 * by 0.3 and 1.9 dB (the test holds it). Below that the tap's own swells look like speech, and it is taken for less bad than it is.
 *
 * @param noise frames with the noise alone
 * @param spoken frames from the beginning of the speech to its end
 * @returns null where either is too short or nothing stands over the noise
 */
export function signalToNoise(noise: readonly number[], spoken: readonly number[]): SignalToNoise | null {
  const under = noiseLevel(noise);
  const speech = under === null ? null : speechLevelOver(spoken, under);
  return under === null || speech === null ? null : { speech, noise: under, snr: speech - under };
}
