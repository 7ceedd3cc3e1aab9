import type { Point } from './trainee.ts';

/** A skill that is worth practising next, and why. */
export interface Worth {
  readonly skill: string;
  readonly title: string;
  readonly reason: string;
}

/** How a skill went at some time, as far as it tells what to practise; texts of the critical steps that were missed. */
export type Tried = Pick<Point, 'skill' | 'startedAt' | 'credited' | 'of' | 'criticalMissed'>;

/** Days after which a skill is practised again. Common practice, no source. */
export const STALE_DAYS = 14;

const DAY = 24 * 60 * 60 * 1000;

/** The kinds of reason, the most pressing first. */
type Need = 'critical' | 'half' | 'never' | 'missed' | 'stale';
const NEEDS: readonly Need[] = ['critical', 'half', 'never', 'missed', 'stale'];

/**
 * What a trainee should practise next. The rule: first the skills whose last attempt missed a critical step; then those that missed half
 * of their steps or more; then those never tried, for a test may draw them; then those that missed any step the last time; then those
 * last tried over {@link STALE_DAYS} days ago. Within each, the one with the smaller share of steps first, then the one tried longest
 * ago. What needs nothing is left out.
 *
 * @param skills the skills there are to practise
 * @param tries of one trainee, in any order; those in which nothing could be judged do not count
 * @param now in UTC as ISO 8601 has it
 */
export function worthPractising(
  skills: readonly { readonly id: string; readonly title: string }[],
  tries: readonly Tried[],
  now: string,
): Worth[] {
  const lastOf = new Map<string, Tried>();
  for (const each of tries)
    if (each.of > 0 && startOf(each) >= startOf(lastOf.get(each.skill))) lastOf.set(each.skill, each);
  const needs = skills.flatMap(({ id, title }) => {
    const last = lastOf.get(id);
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

function needOf(last: Tried, now: string): Exclude<Need, 'never'> | null {
  if (last.criticalMissed.length > 0) return 'critical';
  if (shareOf(last) <= 0.5) return 'half';
  if (last.credited < last.of) return 'missed';
  return daysSince(last, now) > STALE_DAYS ? 'stale' : null;
}

function reasonFor(need: Need, last: Tried | undefined, now: string): string {
  if (need === 'never' || !last) return 'Not tried yet.';
  const { of, credited, criticalMissed } = last;
  switch (need) {
    case 'critical':
      return `A critical step was missed the last time: ${criticalMissed.join('; ')}.`;
    case 'half':
    case 'missed':
      return `${of - credited} of ${of} steps were missed the last time.`;
    case 'stale':
      return `Last tried ${Math.floor(daysSince(last, now))} days ago.`;
  }
}

/** Days since an attempt began. */
export const daysSince = (attempt: Pick<Tried, 'startedAt'>, now: string): number =>
  (Date.parse(now) - startOf(attempt)) / DAY;

const startOf = (attempt: Pick<Tried, 'startedAt'> | undefined): number =>
  attempt ? Date.parse(attempt.startedAt) : 0;
const shareOf = (last: Tried | undefined): number => (last ? last.credited / last.of : 0);
