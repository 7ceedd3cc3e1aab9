import { KILOGRAMS_PER_POUND } from '../language/units/units.ts';
import { randomFrom } from '../skills/random.ts';
import { between, clamp } from './rhythm.ts';

export const toKilograms = (pounds: number): number => pounds * KILOGRAMS_PER_POUND;
export const toPounds = (kilograms: number): number => kilograms / KILOGRAMS_PER_POUND;

export type WeightUnit = 'pounds' | 'kilograms';

/** A balance beam's two rows, in its unit: the large poise rests in notches, the small one slides from mark to mark. */
export interface Beam {
  readonly unit: WeightUnit;
  readonly notch: number;
  readonly notches: number;
  readonly mark: number;
}

export const BEAMS: Readonly<Record<WeightUnit, Beam>> = {
  pounds: { unit: 'pounds', notch: 50, notches: 6, mark: 0.25 },
  kilograms: { unit: 'kilograms', notch: 20, notches: 7, mark: 0.1 },
};

export interface Poises {
  /** Which notch the large poise rests in, from 0. */
  readonly large: number;
  /** Where the small poise stands, in the beam's unit. */
  readonly small: number;
}

export const AT_ZERO: Poises = { large: 0, small: 0 };

/** The scale and who stands on it, in the beam's unit. */
export interface Load {
  /** What the resident weighs, on a mark of the beam. */
  readonly weight: number;
  /** What the empty scale weighs too much (too little: negative) before it is set to zero. */
  readonly offZero: number;
}

/** A resident of 95 to 240 pounds and a scale that was moved: off by a half to two pounds (common practice, no source). */
export function loadFrom(seed: number, { unit, mark }: Beam): Load {
  const random = randomFrom(seed);
  const inUnit = (pounds: number): number => {
    const value = unit === 'pounds' ? pounds : toKilograms(pounds);
    return Math.round(value / mark) * mark;
  };
  const weight = inUnit(between(random, [95, 240]));
  const off = inUnit(between(random, [0.5, 2]));
  return { weight, offZero: random() < 0.5 ? -off : off };
}

export const readOff = ({ notch }: Beam, { large, small }: Poises): number => large * notch + small;

/** How much heavier the platform's side is than the poises', in the beam's unit; 0 when they balance. */
export const imbalance = (beam: Beam, onPlatform: number, poises: Poises, offZero: number): number =>
  onPlatform + offZero - readOff(beam, poises);

/** Whether the pointer stands in the middle: off by less than half a mark. */
export const isBalanced = ({ mark }: Beam, off: number): boolean => Math.abs(off) < mark / 2;

/**
 * Where the pointer stands, −1 (down at the stop) to 1 (up at the stop), a while after something was moved: it swings about
 * its resting place and settles within some three seconds. A full deflection is sixteen marks.
 *
 * @param seconds since the last move
 */
export function pointerAt({ mark }: Beam, off: number, seconds: number): number {
  const rest = clamp(off / (16 * mark), -1, 1);
  const swing = 0.35 * Math.exp(-seconds / 0.8) * Math.sin(2 * Math.PI * 0.9 * seconds);
  return clamp(rest + swing, -1, 1);
}
