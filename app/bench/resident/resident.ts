import type { Measure } from '../../skills/measure.ts';
import { randomFrom } from '../../skills/random.ts';
import { breathe, BREATH_PATTERNS, type Breathing, type BreathPattern } from '../breaths.ts';
import { armOf, placedBelowHeart, type Arm } from '../pressure.ts';
import { beat, PULSE_PATTERNS, type Pulse } from '../pulse.ts';

/** What a resident can be like: how they breathe, what the pulse is like, whether their sounds have a gap. */
export const PATTERNS = [
  ...new Set([...BREATH_PATTERNS, ...PULSE_PATTERNS, 'gap', 'plain'] as const),
] as const;
export type Pattern = (typeof PATTERNS)[number];

/** A simulated resident who is met in a rehearsal. All that there is to measure follows from this. */
export interface Resident {
  readonly measure: Measure;
  readonly seed: number;
  readonly pattern: Pattern;
  /** When they were met, in seconds of the recording: 0 of the resident's own time. */
  readonly at: number;
}

/** The patterns for each measure, the ordinary one first. */
const POSSIBLE: Readonly<Record<Measure, readonly [Pattern, ...Pattern[]]>> = {
  respirations: BREATH_PATTERNS,
  pulse: PULSE_PATTERNS,
  pressure: ['plain', 'gap'],
  urine: ['plain'],
  weight: ['plain'],
};

/** Of residents of any kind, how many are ordinary: one cannot count on the unusual either. */
const ORDINARY = 0.4;

/** What a resident is like. `any`: it may be anything there is for the measure, and the trainee is not told what. */
export function patternFrom(measure: Measure, seed: number, kind: 'ordinary' | 'any'): Pattern {
  const [ordinary, ...others] = POSSIBLE[measure];
  if (kind === 'ordinary' || others.length === 0) return ordinary;
  const random = randomFrom(seed);
  return random() < ORDINARY ? ordinary : (others[Math.floor(random() * others.length)] ?? ordinary);
}

/** How far below the heart the cuff of an arm is that nobody has supported, in centimetres (common practice, no source). */
export const HANGING = 16;

const isOneOf = <T extends string>(list: readonly T[], pattern: string): pattern is T =>
  (list as readonly string[]).includes(pattern);

/** How they breathe, up to so many seconds of their own time. */
export const breathingOf = ({ seed, pattern }: Resident, seconds: number): Breathing =>
  breathe(seed, isOneOf<BreathPattern>(BREATH_PATTERNS, pattern) ? pattern : 'even', seconds);

/** Their pulse, up to so many seconds of their own time. */
export const pulseOf = ({ seed, pattern }: Resident, seconds: number): Pulse =>
  beat(seed, pattern === 'irregular' ? pattern : 'regular', seconds);

/** Their arm as it lies: an unsupported one reads higher. */
export function armAs({ seed, pattern }: Resident, isSupported: boolean): Arm {
  const arm = armOf(seed, pattern === 'gap');
  return isSupported ? arm : placedBelowHeart(arm, HANGING);
}
