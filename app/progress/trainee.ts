import { creditedOf, criticalMissed, inTime, judgedOf, type Attempt, type StepResult } from './attempt.ts';

/** How one trainee gets on with one skill. */
export interface SkillProgress {
  readonly skill: string;
  readonly title: string;
  /** The oldest first. */
  readonly points: readonly Point[];
  /** How many of the latest attempts in a row were passed. */
  readonly streak: number;
  /** The steps missed most often, of the latest attempts, critical ones first. */
  readonly weakest: readonly Missed[];
}

/** One attempt as a point in time. */
export interface Point {
  readonly id: string;
  readonly skill: string;
  readonly startedAt: string;
  readonly credited: number;
  readonly of: number;
  readonly criticalMissed: readonly string[];
  readonly passed: boolean;
}

/** A step and how often it was missed. */
export interface Missed {
  readonly step: string;
  readonly text: string;
  readonly critical: boolean;
  readonly missed: number;
  /** Attempts in which it could be judged. */
  readonly of: number;
}

/** Attempts looked at for what is weak now: older ones tell of somebody who has learnt since. */
const LATEST = 5;

/** The progress of one trainee's attempts, skill by skill in the order first tried. */
export function progressOf(attempts: readonly Attempt[]): SkillProgress[] {
  const skills = new Set([...attempts].sort(byTime).map(({ skill }) => skill));
  return [...skills].map((skill) => {
    const own = inTime(attempts, skill);
    return {
      skill,
      title: own.at(-1)?.title ?? skill,
      points: own.map(pointOf),
      streak: streakOf(own),
      weakest: missedIn(own.slice(-LATEST)),
    };
  });
}

/** How many of the latest attempts in a row were passed. @param attempts the oldest first */
export const streakOf = (attempts: readonly Attempt[]): number =>
  attempts.length - 1 - attempts.findLastIndex(({ passed }) => !passed);

/** The steps missed in some attempts: critical ones first, then by the share of attempts that missed them. */
export function missedIn(attempts: readonly Attempt[]): Missed[] {
  const found = new Map<string, StepResult[]>();
  for (const step of attempts.flatMap(({ steps }) => steps))
    if (step.credited !== null) found.set(step.step, [...(found.get(step.step) ?? []), step]);
  return [...found.values()]
    .map((all): Missed => {
      const { step, text, critical } = all[all.length - 1]!; // Every entry of the map holds one or more.
      return { step, text, critical, missed: all.filter(({ credited }) => !credited).length, of: all.length };
    })
    .filter(({ missed }) => missed > 0)
    .sort((a, b) => Number(b.critical) - Number(a.critical) || b.missed / b.of - a.missed / a.of);
}

export const pointOf = ({ id, skill, startedAt, steps, passed }: Attempt): Point => ({
  id,
  skill,
  startedAt,
  credited: creditedOf(steps),
  of: judgedOf(steps),
  criticalMissed: criticalMissed(steps).map(({ text }) => text),
  passed,
});

const byTime = (a: Attempt, b: Attempt): number => Date.parse(a.startedAt) - Date.parse(b.startedAt);
