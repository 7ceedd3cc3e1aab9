import type { Rules } from './skill.ts';

/** How far from the measured number a recorded one may lie by the rules, in its unit; null where they do not say. */
export const toleranceOf = ({ tolerances }: Pick<Rules, 'tolerances'>, unit: string): number | null =>
  tolerances[unit] ?? null;

/** Whether two numbers lie no further apart than is allowed. Weights come in fractions that binary numbers cannot hold. */
export const isWithin = (a: number, b: number, tolerance: number): boolean =>
  Math.abs(a - b) <= tolerance + 1e-9;

/** How far two numbers lie apart, as it is told. */
export const apartBy = (a: number, b: number): number => Number(Math.abs(a - b).toFixed(3));
