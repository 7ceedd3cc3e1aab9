import { randomFrom, type Random } from '../skills/random.ts';
import { beganWithin, between, clamp, correlated, lastBy, type Moment } from './rhythm.ts';

export const BREATH_PATTERNS = ['even', 'slow', 'fast', 'irregular', 'periodic'] as const;
export type BreathPattern = (typeof BREATH_PATTERNS)[number];

/** One breath. Between its end and the next one the chest rests. */
export interface Breath extends Moment {
  /** Seconds of breathing in, then of breathing out. */
  readonly rise: number;
  readonly fall: number;
  /** How far the chest rises, 1 being this resident's usual breath. */
  readonly depth: number;
}

export interface Breathing {
  readonly pattern: BreathPattern;
  /** Breaths a minute in the long run. One minute differs from it by chance: the truth is what began in that minute. */
  readonly rate: number;
  readonly breaths: readonly Breath[];
}

interface Manner {
  /** Breaths a minute; in periodic breathing while there are any. */
  readonly rate: readonly [number, number];
  /** Standard deviation of the time from breath to breath, as a share of its mean. */
  readonly spread: readonly [number, number];
  /** The same of the depth. */
  readonly depthSpread: number;
}

/**
 * What a resident is drawn from. Rates: an adult at rest breathes 12 to 20 times a minute, slower is slow and faster is fast
 * (common practice, no source). Spread: Tobin et al., J Appl Physiol 1988;65:309–317, found a breath-to-breath
 * coefficient of variation of 20.8 ± 11.5 % for the rate and 33 ± 14.9 % for the depth in 65 resting people.
 */
export const MANNERS: Readonly<Record<BreathPattern, Manner>> = {
  even: { rate: [12, 20], spread: [0.09, 0.22], depthSpread: 0.25 },
  slow: { rate: [7, 11], spread: [0.09, 0.22], depthSpread: 0.25 },
  fast: { rate: [22, 30], spread: [0.06, 0.15], depthSpread: 0.2 },
  irregular: { rate: [12, 22], spread: [0.32, 0.4], depthSpread: 0.45 },
  periodic: { rate: [20, 26], spread: [0.04, 0.08], depthSpread: 0.05 },
};

/**
 * How much a breath is like the one before, in length and in depth: Tobin et al., Am J Respir Crit Care Med
 * 1995;152:1967–1976 (lag-1 autocorrelation 0.20 for breathing in, 0.26 for breathing out, 0.295 for the depth).
 */
const LEAN = { interval: 0.25, depth: 0.3 };

/** Differences are cut off here, in standard deviations: no breath starts while the one before is still being drawn. */
const MOST = 1.8;

/** Share of a breath's time that breathing in and out take; the rest is the pause (from memory: in takes about 0.4 at rest). */
const RISE = 0.4;
const FALL = 0.46;

/** Periodic breathing: breaths that swell and fade, then none for a while. Seconds without one, and breaths in a group. */
const GROUP = { pause: [14, 24] as const, breaths: [12, 16] as const };

/**
 * A resident who breathes.
 *
 * @param seed the same seed gives the same resident
 * @param seconds how long, from 0 on; breaths from a minute or two before are there as well
 */
export function breathe(seed: number, pattern: BreathPattern, seconds: number): Breathing {
  const random = randomFrom(seed);
  const manner = MANNERS[pattern];
  const rate = between(random, manner.rate);
  const next = breathAfter(random, 60 / rate, between(random, manner.spread), manner.depthSpread);
  const group = pattern === 'periodic' ? groupOf(random) : null;
  const breaths: Breath[] = [];
  let at = -60 - 60 * random();
  for (let i = 0; at < seconds; i++) {
    const { interval, ...breath } = next();
    const place = group ? i % group.breaths : 0;
    const pause = group && place === group.breaths - 1 ? group.pause : 0;
    breaths.push({ at, ...breath, depth: breath.depth * (group ? swell(place, group.breaths) : 1) });
    at += interval + pause;
  }
  const perGroup = group ? group.breaths / ((group.breaths * 60) / rate + group.pause) : rate / 60;
  return { pattern, rate: 60 * perGroup, breaths };
}

function breathAfter(random: Random, mean: number, spread: number, depthSpread: number) {
  const length = correlated(random, LEAN.interval);
  const depth = correlated(random, LEAN.depth);
  return () => {
    const interval = mean * (1 + spread * clamp(length(), -MOST, MOST));
    return {
      interval,
      rise: RISE * interval,
      fall: FALL * interval,
      depth: clamp(1 + depthSpread * depth(), 0.35, 1.9),
    };
  };
}

const groupOf = (random: Random) => ({
  pause: between(random, GROUP.pause),
  breaths: Math.floor(between(random, GROUP.breaths)),
});

/** Depth of a group's breaths, from 0.3 up to 1.3 in the middle and down again. */
function swell(place: number, of: number): number {
  const off = (2 * place) / (of - 1) - 1;
  return 1.3 - off * off;
}

/** The truth: how many breaths began in the minute from `start` on, [start, start + 60). */
export const breathsInMinute = ({ breaths }: Breathing, start: number): number =>
  beganWithin(breaths, start, start + 60).length;

/**
 * How high the chest stands, 0 at rest, 1 at the height of a usual breath. It rises fastest at the very beginning of a breath, so
 * that the beginning can be seen, and sinks as an outflow does: fast, then slowly.
 */
export function chestAt({ breaths }: Breathing, at: number): number {
  const breath = lastBy(breaths, at);
  if (!breath) return 0;
  const into = at - breath.at;
  const { rise, fall, depth } = breath;
  if (into < rise) {
    const left = 1 - into / rise;
    return depth * (1 - left * left);
  }
  const left = Math.max(0, 1 - (into - rise) / fall);
  return depth * left * left;
}
