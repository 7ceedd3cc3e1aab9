import {
  agreement,
  earlyStops,
  lastDigits,
  type Agreement,
  type EarlyStops,
  type LastDigits,
} from '../bench/readings/statistics.ts';
import type { ReadingTaken } from '../bench/readings/taken.ts';
import type { Attempt } from './attempt.ts';

/** What a trainee's readings have in common, over attempts and the bench: too high, too spread, rounded, stopped early. */
export interface ReadingStatistics {
  /** What was read: "Respirations", "Upper number". */
  readonly name: string;
  readonly unit: string;
  /** The oldest first. */
  readonly readings: readonly ReadingTaken[];
  /** Bland and Altman's; null for fewer than three readings. */
  readonly agreement: Agreement | null;
  /** Null where the instrument's marks leave no choice of the last digit. */
  readonly digits: LastDigits | null;
  readonly early: EarlyStops;
}

/** The digits that an instrument's marks leave: every one, every other one, or no choice that tells of rounding. */
const DIGIT_STEPS: Readonly<Record<string, 1 | 2 | null>> = { mmHg: 2, millilitres: null };

/** The statistics of one person's readings, for each thing that was read. */
export function readingStatistics(readings: readonly ReadingTaken[]): ReadingStatistics[] {
  const inTime = [...readings].sort((a, b) => Date.parse(a.takenAt) - Date.parse(b.takenAt));
  const keys = new Map(inTime.map(({ name, unit }) => [`${name} ${unit}`, { name, unit }]));
  return [...keys.values()].map(({ name, unit }) => {
    const own = inTime.filter((reading) => reading.name === name && reading.unit === unit);
    const step = DIGIT_STEPS[unit] === undefined ? 1 : DIGIT_STEPS[unit];
    return {
      name,
      unit,
      readings: own,
      agreement: agreement(own.map(({ recorded, truth }) => recorded - truth)),
      digits:
        step &&
        lastDigits(
          own.map(({ recorded }) => Math.round(recorded)),
          step,
        ),
      early: earlyStops(own.flatMap(({ stretch }) => stretch ?? [])),
    };
  });
}

/** Below this likelihood that digits are so uneven by chance, rounding is told. */
const UNLIKELY = 0.05;

/** Whether too many readings end in 0 to be chance. */
export const isRounded = ({ digits }: Pick<ReadingStatistics, 'digits'>): boolean =>
  digits !== null && digits.chance !== null && digits.chance < UNLIKELY && digits.zeros > digits.expected;

/** Seconds that a count of a full minute takes. Shorter ones have rules of their own. */
const FULL_MINUTE = 60;

/** The readings of attempts whose truth is known. */
export const readingsIn = (attempts: readonly Attempt[]): ReadingTaken[] =>
  attempts.flatMap(({ readings, clocks, startedAt }) => {
    const count = clocks.find(({ required, seconds }) => required === FULL_MINUTE && seconds > 0);
    // The middle of what is believed: `seconds` is its lower end.
    const stretch = count ? { from: 0, to: count.seconds + count.uncertainty } : null;
    return readings.flatMap(({ name, unit, said, truth }) =>
      truth === null ? [] : [{ name, unit, recorded: said, truth, stretch, takenAt: startedAt }],
    );
  });
