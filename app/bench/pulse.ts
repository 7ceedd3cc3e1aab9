import { randomFrom } from '../skills/random.ts';
import { beganWithin, between, clamp, correlated, lastBy, type Moment } from './rhythm.ts';

export const PULSE_PATTERNS = ['regular', 'irregular'] as const;
export type PulsePattern = (typeof PULSE_PATTERNS)[number];

export interface Beat extends Moment {
  /** How strong it is under the fingers, 0–1. Even the weakest can be felt. */
  readonly strength: number;
}

export interface Pulse {
  readonly pattern: PulsePattern;
  /** Beats a minute in the long run. */
  readonly rate: number;
  readonly beats: readonly Beat[];
}

/**
 * What a resident is drawn from: beats a minute (60 to 100 at rest: American Heart Association, from memory), the standard
 * deviation of the time from beat to beat as a share of its mean, and how much a beat's time is like the one before.
 *
 * Regular: Nunan, Sandercock, Brodie, PACE 2010;33:1407–1417 (from memory) give short-term means of 926 ms between beats,
 * 50 ms for their standard deviation (5.4 %, less in old age) and 42 ms for the root mean square of successive differences. A first-order
 * series has RMSSD² = 2·SD²·(1 − lean), so lean = 1 − 42² / (2 · 50²) = 0.65.
 *
 * Irregular: no time leans on another, as in atrial fibrillation, with a spread near a quarter (common teaching, from memory).
 */
export const RHYTHMS = {
  regular: { rate: [60, 100], spread: [0.02, 0.055], lean: 0.65 },
  irregular: { rate: [64, 108], spread: [0.2, 0.27], lean: 0 },
} as const;

/** Differences are cut off here, in standard deviations. */
const MOST = 2;

/**
 * A resident with a pulse.
 *
 * @param seed the same seed gives the same resident
 * @param seconds how long, from 0 on; beats from a few seconds before are there as well
 */
export function beat(seed: number, pattern: PulsePattern, seconds: number): Pulse {
  const random = randomFrom(seed);
  const { rate: rates, spread: spreads, lean } = RHYTHMS[pattern];
  const rate = between(random, rates);
  const spread = between(random, spreads);
  const series = correlated(random, lean);
  const beats: Beat[] = [];
  let before = 1;
  for (let at = -5 - 5 * random(); at < seconds; at += (60 / rate) * before) {
    // After a short time the heart has filled less, and the beat is weaker.
    beats.push({ at, strength: clamp(0.9 - 1.2 * (1 - before), 0.5, 1) });
    before = 1 + spread * clamp(series(), -MOST, MOST);
  }
  return { pattern, rate, beats };
}

/**
 * The truth: how many beats a minute a faultless count from `start` on finds, over the full minute or over half of one, doubled.
 */
export const beatsAMinute = ({ beats }: Pulse, start: number, seconds: 60 | 30 = 60): number =>
  beganWithin(beats, start, start + seconds).length * (60 / seconds);

/** How far the wrist lifts the fingers, 0–1: a fast rise, then a slower fall, over in a quarter of a second, before any next one. */
export function wristAt({ beats }: Pulse, at: number): number {
  const last = lastBy(beats, at);
  if (!last) return 0;
  const into = at - last.at;
  if (into < 0.08) return (last.strength * into) / 0.08;
  const left = Math.max(0, 1 - (into - 0.08) / 0.16);
  return last.strength * left * left;
}
