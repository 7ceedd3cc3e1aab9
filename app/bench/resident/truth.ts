import { breathsInMinute } from '../breaths.ts';
import { filledFrom, toNearestMark } from '../container.ts';
import { cuffTrace, lookBack, type CuffPoint, type Measured } from '../pressure.ts';
import { beatsAMinute } from '../pulse.ts';
import { STOP_GRACE } from '../readings/reading.ts';
import { beganWithin, type Moment } from '../rhythm.ts';
import { loadFrom, type Beam } from '../scale.ts';
import { instrumentsOf, type Handled, type Instruments } from './instruments.ts';
import { armAs, breathingOf, pulseOf, type Resident } from './resident.ts';

/** A count as it was said: from the word that starts it to the word that stops it, in seconds of the resident's own time. */
export interface SaidCount {
  readonly from: number;
  /** Null where no stop was heard. */
  readonly to: number | null;
  /** Half-width of the interval that `from` is believed to lie in. */
  readonly uncertainty: number;
}

/** What there was to measure. Words have their times only within some tenths of a second, so a count may be one of several. */
export interface Truth {
  readonly value: number;
  readonly least: number;
  readonly most: number;
}

const exactly = (value: number): Truth => ({ value, least: value, most: value });

/** Whether about half a minute was counted. */
export const isHalfMinute = ({ from, to }: SaidCount): boolean =>
  to !== null && Math.abs(to - from - 30) <= STOP_GRACE;

/**
 * The truth of a count of breaths, or of beats a minute.
 *
 * @param half whether half a minute, doubled, is the measurement: where that is allowed, was done, and the pulse is regular
 */
export function countTruth(resident: Resident, count: SaidCount, half = false): Truth {
  const seconds = half ? 30 : 60;
  const until = count.from + count.uncertainty + seconds + 1;
  const { moments, countFrom } = countable(resident, until, half);
  const [first, last] = [count.from - count.uncertainty, count.from + count.uncertainty];
  // The number changes only where a moment comes into the stretch or leaves it: just there, and just after it.
  const edges = beganWithin(moments, first, last + seconds).flatMap(({ at }) => [at, at - seconds]);
  const starts = edges.flatMap((at) => [at, at + 1e-6]).filter((at) => at > first && at < last);
  const counts = [first, last, ...starts].map(countFrom);
  return { value: countFrom(count.from), least: Math.min(...counts), most: Math.max(...counts) };
}

function countable(
  resident: Resident,
  until: number,
  half: boolean,
): { readonly moments: readonly Moment[]; readonly countFrom: (start: number) => number } {
  if (resident.measure === 'respirations') {
    const breathing = breathingOf(resident, until);
    return { moments: breathing.breaths, countFrom: (start) => breathsInMinute(breathing, start) };
  }
  const pulse = pulseOf(resident, until);
  return { moments: pulse.beats, countFrom: (start) => beatsAMinute(pulse, start, half ? 30 : 60) };
}

/** What was done with the cuff, and what came of it. */
export interface CuffLookedBack {
  readonly points: readonly CuffPoint[];
  readonly measured: Measured;
  readonly instruments: Instruments;
}

/**
 * Looks back at the last time the cuff was let down.
 *
 * @param until seconds of the resident's own time
 */
export function lookBackAtCuff(
  resident: Resident,
  handled: readonly Handled[],
  until: number,
): CuffLookedBack {
  const instruments = instrumentsOf(resident.at, handled);
  const points = cuffTrace(instruments.cuff, until);
  const arm = armAs(resident, instruments.isSupported);
  return { points, instruments, measured: lookBack(arm, pulseOf(resident, until), points) };
}

/** The first and the last sound of the last let-down; null where nothing could be heard. */
export function soundTruth(
  resident: Resident,
  handled: readonly Handled[],
  until: number,
  which: 'first' | 'last',
): Truth | null {
  const value = lookBackAtCuff(resident, handled, until).measured[which];
  return value === null ? null : exactly(value);
}

/** What is in the container, to the nearest mark, in millilitres. */
export const volumeTruth = ({ seed }: Resident): Truth => exactly(toNearestMark(filledFrom(seed)));

/** What the resident weighs, in the beam's unit. */
export const weightTruth = ({ seed }: Resident, beam: Beam): Truth => exactly(loadFrom(seed, beam).weight);
