import type { RehearsalSummary } from '../../app/host/api.ts';
import type { Tried } from '../../app/progress/nextPractice.ts';
import type { Skill } from '../../app/skills/skill.ts';
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

/** Every run of a whole skill, also within mock tests, for what to practise next: by the words of the steps, as `skills` has them. */
export function triesOf(rehearsals: readonly RehearsalSummary[], skills: readonly Skill[]): Tried[] {
  const texts = new Map(
    skills.map(({ id, steps }) => [id, new Map(steps.map((step) => [step.id, step.text]))]),
  );
  return rehearsals.flatMap(({ startedAt, skills: runs }) =>
    runs.map(({ skill, heard, of, criticalMissed }) => ({
      skill,
      startedAt,
      credited: heard,
      of,
      criticalMissed: criticalMissed.map((id) => texts.get(skill)?.get(id) ?? id),
    })),
  );
}
