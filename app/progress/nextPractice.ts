import { creditedOf, criticalMissed, inTime, judgedOf, type Attempt } from './attempt.ts';

/** A skill that is worth practising next, and why. */
export interface Worth {
  readonly skill: string;
  readonly title: string;
  readonly reason: string;
}

/** Days after which a skill is practised again. Common practice, no source. */
export const STALE_DAYS = 14;

const DAY = 24 * 60 * 60 * 1000;

/** The kinds of reason, the most pressing first. */
type Need = 'critical' | 'never' | 'missed' | 'stale';
const NEEDS: readonly Need[] = ['critical', 'never', 'missed', 'stale'];

/**
 * What a trainee should practise next. The rule: first the skills whose last attempt missed a critical step; then those never tried, for
 * a test may draw them; then those not passed the last time; then those last tried over {@link STALE_DAYS} days ago. Within each, the one
 * with the smaller share of steps first, then the one tried longest ago. What needs nothing is left out.
 *
 * @param skills the skills there are to practise
 * @param attempts of one trainee
 * @param now in UTC as ISO 8601 has it
 */
export function worthPractising(
  skills: readonly { readonly id: string; readonly title: string }[],
  attempts: readonly Attempt[],
  now: string,
): Worth[] {
  const needs = skills.flatMap(({ id, title }) => {
    const last = inTime(attempts, id).at(-1);
    const need = last ? needOf(last, now) : ('never' as const);
    return need === null ? [] : [{ skill: id, title, last, need }];
  });
  return needs
    .sort(
      (a, b) =>
        NEEDS.indexOf(a.need) - NEEDS.indexOf(b.need) ||
        shareOf(a.last) - shareOf(b.last) ||
        startOf(a.last) - startOf(b.last),
    )
    .map(({ skill, title, last, need }) => ({ skill, title, reason: reasonFor(need, last, now) }));
}

function needOf(last: Attempt, now: string): Exclude<Need, 'never'> | null {
  if (criticalMissed(last.steps).length > 0) return 'critical';
  if (!last.passed) return 'missed';
  return daysSince(last, now) > STALE_DAYS ? 'stale' : null;
}

function reasonFor(need: Need, last: Attempt | undefined, now: string): string {
  if (need === 'never' || !last) return 'Not tried yet.';
  const { steps } = last;
  switch (need) {
    case 'critical':
      return `A critical step was missed the last time: ${criticalMissed(steps)
        .map(({ text }) => text)
        .join('; ')}.`;
    case 'missed':
      return `${judgedOf(steps) - creditedOf(steps)} of ${judgedOf(steps)} steps were missed the last time.`;
    case 'stale':
      return `Last tried ${Math.floor(daysSince(last, now))} days ago.`;
  }
}

/** Days since an attempt began. */
export const daysSince = (attempt: Attempt, now: string): number =>
  (Date.parse(now) - startOf(attempt)) / DAY;

const startOf = (attempt: Attempt | undefined): number => (attempt ? Date.parse(attempt.startedAt) : 0);
const shareOf = (attempt: Attempt | undefined): number =>
  attempt ? creditedOf(attempt.steps) / Math.max(1, judgedOf(attempt.steps)) : 0;
