import type { RehearsalSummary } from '../../app/host/api.ts';
import type { Mark } from '../parts/Shape.tsx';

/** How a skill went when it was rehearsed last: as a shape, and in words. */
export interface LastRun {
  readonly mark: Mark;
  readonly words: string;
}

const NEVER: LastRun = { mark: 'open', words: 'Not rehearsed yet' };

/**
 * How each skill went last, also within mock tests. Rehearsals of only some of a skill's steps do not count.
 *
 * @param rehearsals newest first
 */
export function lastRuns(rehearsals: readonly RehearsalSummary[]): (skill: string) => LastRun {
  const last = new Map<string, LastRun>();
  for (const each of rehearsals.flatMap(({ skills }) => skills))
    if (!last.has(each.skill)) last.set(each.skill, runOf(each));
  return (skill) => last.get(skill) ?? NEVER;
}

/** A missed critical step comes first, however many others were heard. */
function runOf({ heard, of, criticalMissed }: RehearsalSummary['skills'][number]): LastRun {
  const missed = criticalMissed.length;
  const count = `${heard} of ${of} steps heard`;
  if (missed > 0)
    return {
      mark: 'not heard',
      words: `${count}, ${missed} critical ${missed === 1 ? 'step' : 'steps'} missed`,
    };
  return { mark: heard === of ? 'heard' : 'short', words: count };
}
