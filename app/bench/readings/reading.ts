import type { Rules } from '../../skills/skill.ts';
import { isWithin, toleranceOf as toleranceIn } from '../../skills/tolerance.ts';
import type { PulsePattern } from '../pulse.ts';

/** Units of a reading, as skill and rules files name them. */
export type Unit = 'breaths a minute' | 'beats a minute' | 'mmHg' | 'millilitres' | 'pounds' | 'kilograms';

/** Where the rules name none: breaths within 2, common practice, no source. Others are then shown and not judged. */
const USUAL: Readonly<Record<string, number>> = { 'breaths a minute': 2 } satisfies Partial<
  Record<Unit, number>
>;

/** How far from the truth a reading may be under these rules, in its unit; null where they do not say. */
export const toleranceOf = (rules: Pick<Rules, 'tolerances'>, unit: string): number | null =>
  toleranceIn(rules, unit) ?? USUAL[unit] ?? null;

export interface Reading {
  readonly unit: Unit;
  readonly truth: number;
  readonly recorded: number;
  /** The number that was said aloud, where one was. */
  readonly said: number | null;
}

export interface Comparison extends Reading {
  /** Recorded less truth. */
  readonly difference: number;
  readonly tolerance: number | null;
  readonly verdict: 'within' | 'outside' | 'not judged';
  /** What was said is not what was recorded. */
  readonly saidOther: boolean;
}

/** Holds a recorded number against the truth. What was said never makes up for what was recorded, nor the other way round. */
export function compare(reading: Reading, rules: Pick<Rules, 'tolerances'>): Comparison {
  const tolerance = toleranceOf(rules, reading.unit);
  const difference = reading.recorded - reading.truth;
  const isRight = tolerance !== null && isWithin(reading.recorded, reading.truth, tolerance);
  const judged = isRight ? 'within' : 'outside';
  return {
    ...reading,
    difference,
    tolerance,
    verdict: tolerance === null ? 'not judged' : judged,
    saidOther: reading.said !== null && reading.said !== reading.recorded,
  };
}

/** From where to where the trainee counted, in seconds of the resident's time. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
}

/** How a count is to be done. */
export interface Counting {
  /** Whether half a minute, doubled, will do, where the pulse is regular. */
  readonly mayHalve: boolean;
  /** What the pulse is like; breaths are always counted for the full minute. */
  readonly pattern: PulsePattern | 'breaths';
}

export type CountRemark =
  'stopped early' | 'ran on' | 'half a minute is not allowed' | 'irregular needs a full minute';

/** How early or late a stop may come, in seconds: that of saying it. */
export const STOP_GRACE = 1.5;

/** What to tell of a count's length, or null where it is right. */
export function remarkOn({ from, to }: Stretch, { mayHalve, pattern }: Counting): CountRemark | null {
  const seconds = to - from;
  if (Math.abs(seconds - 60) <= STOP_GRACE) return null;
  if (seconds > 60) return 'ran on';
  if (Math.abs(seconds - 30) > STOP_GRACE || pattern === 'breaths') return 'stopped early';
  if (pattern === 'irregular') return 'irregular needs a full minute';
  return mayHalve ? null : 'half a minute is not allowed';
}
