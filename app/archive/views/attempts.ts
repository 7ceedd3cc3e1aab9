import type { Attempt, StepResult } from '../../progress/attempt.ts';
import type { ClassReply } from './api.ts';
import type { KnownStep } from './steps.ts';

/**
 * The tries of a class as app/progress looks at attempts. What only one trainee's page shows (clocks, numbers, talk) is left empty. Pure.
 *
 * @param nameOf what a trainee is called by their id; app/progress tells people apart by it
 */
export function attemptsOf(
  { skill, steps, tries }: Pick<ClassReply, 'skill' | 'steps' | 'tries'>,
  nameOf: (id: string) => string,
): Attempt[] {
  const known = new Map(steps.map((step) => [step.id, step]));
  return tries.map(({ attempt, trainee, startedAt, passed, stepIds, marks }) => ({
    id: attempt,
    trainee: nameOf(trainee),
    startedAt,
    skill,
    title: skill,
    steps: stepResults(known, stepIds, marks),
    passed,
    clocks: [],
    readings: [],
    narrated: null,
    longestSilence: 0,
  }));
}

/** The results of the steps of one try. */
export const stepResults = (
  known: ReadonlyMap<number, KnownStep>,
  stepIds: readonly number[],
  marks: string,
): StepResult[] =>
  stepIds.flatMap((id, i) => {
    const step = known.get(id);
    if (!step) return [];
    return [
      {
        step: step.step,
        text: step.text,
        critical: step.critical,
        credited: creditedBy(marks[i] ?? '-'),
      },
    ];
  });

/** What a letter of `marks` says of a step: null where it was not judged. */
const creditedBy = (letter: string): boolean | null => (letter === '-' ? null : letter === 'y');
