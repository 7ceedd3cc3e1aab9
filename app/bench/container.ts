import { ML_PER_FLUID_OUNCE } from '../language/units/units.ts';
import { randomFrom } from '../skills/random.ts';
import { between } from './rhythm.ts';

export const toFluidOunces = (millilitres: number): number => millilitres / ML_PER_FLUID_OUNCE;
export const toMillilitres = (fluidOunces: number): number => fluidOunces * ML_PER_FLUID_OUNCE;

/** A clear container with upright walls, round, its scale on the wall that faces the reader. */
export interface Container {
  /** Millilitres at the highest mark, and from mark to mark. */
  readonly capacity: number;
  readonly mark: number;
  /** Inner radius in millimetres. */
  readonly radius: number;
}

export const CONTAINER: Container = { capacity: 1000, mark: 25, radius: 45 };

/** Where the reader's eye is: millimetres above the container's floor, and away from the wall with the scale. */
export interface Eye {
  readonly height: number;
  readonly distance: number;
}

/** What is in the container, in whole millilitres: from an eighth to nine tenths of it (common practice, no source). */
export const filledFrom = (seed: number, { capacity }: Container = CONTAINER): number =>
  Math.round(between(randomFrom(seed), [capacity / 8, capacity * 0.9]));

/** Height in millimetres at which a volume in millilitres stands (1 mL is 1000 mm³). */
export const heightOf = (volume: number, { radius }: Container = CONTAINER): number =>
  (volume * 1000) / (Math.PI * radius * radius);

const volumeAt = (height: number, { radius }: Container): number =>
  (height * Math.PI * radius * radius) / 1000;

/**
 * What the eye reads, in millilitres, off the mark that lies in its line of sight to the lowest point of the surface. That point
 * is on the container's axis, one radius behind the scale, so an eye above it finds it against a mark too high:
 * y = h + (e − h) · r / (d + r). That light bends in wall and water is left out.
 */
export function seenFrom(eye: Eye, volume: number, container: Container = CONTAINER): number {
  const h = heightOf(volume, container);
  const share = container.radius / (eye.distance + container.radius);
  return volumeAt(h + (eye.height - h) * share, container);
}

/** The eye at the height of the surface, where it reads what is there. */
export const atEyeLevel = (volume: number, distance: number, container: Container = CONTAINER): Eye => ({
  height: heightOf(volume, container),
  distance,
});

/**
 * How far water climbs an upright wall, in millimetres: ℓ · √(2 (1 − sin θ)), with the capillary length ℓ = 2.7 mm of water and the
 * angle θ at which it meets the wall (de Gennes, Brochard-Wyart, Quéré, "Capillarity and Wetting Phenomena"; from memory). The number
 * is read at the lowest point, not where it touches the wall.
 *
 * @param degrees 0 wets the wall wholly, 90 not at all
 */
export const meniscusRise = (degrees: number): number =>
  2.7 * Math.sqrt(2 * (1 - Math.sin((degrees * Math.PI) / 180)));

/** The truth: what is in it, to the nearest mark. */
export const toNearestMark = (volume: number, { mark }: Container = CONTAINER): number =>
  Math.round(volume / mark) * mark;
