import { inTime, type Attempt } from './attempt.ts';
import { daysSince, STALE_DAYS } from './nextPractice.ts';
import { missedIn, streakOf, type Missed } from './trainee.ts';

/** A class with one skill: every trainee's last attempt, step by step. No totals and no order by merit: people are not ranked. */
export interface HeatMap {
  readonly skill: string;
  /** In the order of the latest version tried. */
  readonly steps: readonly { readonly step: string; readonly text: string; readonly critical: boolean }[];
  /** By name. `cells` go with `steps`; null: not tried, not judged, or no such step then. */
  readonly trainees: readonly { readonly name: string; readonly cells: readonly (boolean | null)[] }[];
}

/** The heat map of a skill over the trainees of a class, those who have not tried it among them. */
export function heatMap(trainees: readonly string[], attempts: readonly Attempt[], skill: string): HeatMap {
  const own = inTime(attempts, skill);
  const steps = (own.at(-1)?.steps ?? []).map(({ step, text, critical }) => ({ step, text, critical }));
  return {
    skill,
    steps,
    trainees: namesOf(trainees).map((name) => {
      const last = own.findLast(({ trainee }) => trainee === name);
      const cells = steps.map(({ step }) => last?.steps.find((each) => each.step === step)?.credited ?? null);
      return { name, cells };
    }),
  };
}

/** People that a group must have before it is shown to somebody outside its own class or school. */
export const LEAST_PEOPLE = 10;

/**
 * The steps that a class misses most, over each trainee's last attempt at a skill, so that who practises much does not count more.
 *
 * @param least trainees there must be; {@link LEAST_PEOPLE} for a view across schools
 * @returns null where they are fewer
 */
export function hardestSteps(attempts: readonly Attempt[], skill: string, least = 1): Missed[] | null {
  const latest = new Map(
    inTime(attempts, skill).flatMap((attempt) =>
      attempt.trainee === null ? [] : [[attempt.trainee, attempt] as const],
    ),
  );
  return latest.size < least ? null : missedIn([...latest.values()]);
}

/** Who of a class has not tried a skill at all. */
export const notPractised = (
  trainees: readonly string[],
  attempts: readonly Attempt[],
  skill: string,
): string[] =>
  namesOf(trainees).filter((name) => !attempts.some((a) => a.trainee === name && a.skill === skill));

/** Attempts in a row that must have been passed. Common practice, no source. */
const READY_STREAK = 2;

/** Whether a trainee is ready to be tested in a skill, and why not. */
export type Readiness =
  { readonly ready: true } | { readonly ready: false; readonly why: 'not tried' | 'not steady' | 'long ago' };

/**
 * Readiness by a stated rule: the last {@link READY_STREAK} attempts were passed, the latest of them within {@link STALE_DAYS} days.
 * It says what practice shows, not what a test will: a trained observer decides.
 *
 * @param attempts of one trainee
 */
export function readiness(attempts: readonly Attempt[], skill: string, now: string): Readiness {
  const own = inTime(attempts, skill);
  const last = own.at(-1);
  if (!last) return { ready: false, why: 'not tried' };
  if (streakOf(own) < READY_STREAK) return { ready: false, why: 'not steady' };
  return daysSince(last, now) > STALE_DAYS ? { ready: false, why: 'long ago' } : { ready: true };
}

const namesOf = (trainees: readonly string[]): string[] =>
  [...new Set(trainees)].sort((a, b) => a.localeCompare(b, 'en'));
