import { z } from 'zod';
import { AssessmentSchema } from '../marking/assessment.ts';
import { isCredit, markRehearsal } from '../marking/result.ts';
import type { State } from '../marking/state.ts';
import type { Review } from '../review/review.ts';
import { sideBySide, type Row } from '../review/sideBySide.ts';
import { talkOf } from '../run/talk.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Rules } from '../skills/skill.ts';

const StepResultSchema = z.object({
  step: z.string(),
  text: z.string(),
  critical: z.boolean(),
  /** Null where words cannot show it and no person has judged. */
  credited: z.boolean().nullable(),
});
export type StepResult = Readonly<z.infer<typeof StepResultSchema>>;

/** One skill of one attempt, as progress looks at it: where a person has judged, that counts; else the machine's mark. */
export const AttemptSchema = z.object({
  /** Id of the record. */
  id: z.string(),
  /** Null where nobody was named. */
  trainee: z.string().nullable(),
  /** When it began, in UTC as ISO 8601 has it. */
  startedAt: z.iso.datetime(),
  skill: z.string(),
  title: z.string(),
  steps: z.array(StepResultSchema),
  /** By the rules. A critical step in doubt is no pass. */
  passed: z.boolean(),
  /** What was timed: seconds heard against seconds needed. */
  clocks: AssessmentSchema.shape.clocks,
  /** Numbers that were said, each beside what a person measured or a simulated resident had; `truth` is null without either. */
  readings: z.array(
    z.object({
      step: z.string(),
      name: z.string(),
      unit: z.string(),
      said: z.number(),
      truth: z.number().nullable(),
    }),
  ),
  /** Share of the time narrated in which there was something to say, 0–1; null where there was none. */
  narrated: z.number().nullable(),
  /** Seconds; 0 where there was no long one. */
  longestSilence: z.number(),
});
export type Attempt = Readonly<z.infer<typeof AttemptSchema>>;

/** Makes an attempt of a record. Pure. */
export function attemptOf(
  about: Pick<Attempt, 'id' | 'trainee' | 'startedAt'>,
  checklist: Checklist,
  state: State,
  review: Review,
): Attempt {
  const { skill, rules } = checklist;
  const rows = sideBySide(checklist, state, review).filter(({ mark }) => mark !== null);
  const steps = rows.map((row) => resultOf(row, rules));
  const last = Math.max(0, ...state.utterances.map(({ end }) => end));
  const talk = talkOf(checklist, state, state.ended ?? last);
  const [silence] = talk.silences;
  return {
    ...about,
    skill: skill.id,
    title: skill.title,
    steps,
    passed: isPass(steps, rules),
    clocks: markRehearsal(checklist, state).clocks,
    readings: rows.flatMap(({ step, measure }) => {
      if (!measure || measure.said === null) return [];
      const { name, unit, said, truth } = measure;
      return [{ step, name, unit, said, truth }];
    }),
    narrated: talk.of > 0 ? talk.narrated / talk.of : null,
    longestSilence: silence ? silence.to - silence.from : 0,
  };
}

function resultOf({ step, text, critical, mark, verdict, measure }: Row, rules: Rules): StepResult {
  // A number further from what was measured than the rules allow is no credit, however clearly it was said.
  const isRight = measure?.within !== false;
  const byMachine = mark && mark.outcome !== 'needs eyes' ? isCredit(mark, rules) && isRight : null;
  return { step, text, critical, credited: verdict ? verdict.verdict === 'yes' : byMachine };
}

function isPass(steps: readonly StepResult[], rules: Rules): boolean {
  const judged = steps.filter(({ credited }) => credited !== null);
  return criticalMissed(judged).length === 0 && creditedOf(judged) >= rules.share * judged.length;
}

/** The critical steps that were judged and not credited. */
export const criticalMissed = (steps: readonly StepResult[]): StepResult[] =>
  steps.filter(({ critical, credited }) => critical && credited === false);

/** How many steps were credited. */
export const creditedOf = (steps: readonly StepResult[]): number =>
  steps.filter(({ credited }) => credited === true).length;

/** How many steps could be judged. */
export const judgedOf = (steps: readonly StepResult[]): number =>
  steps.filter(({ credited }) => credited !== null).length;

/** The attempts of one skill, the oldest first. */
export const inTime = (attempts: readonly Attempt[], skill: string): Attempt[] =>
  attempts
    .filter((attempt) => attempt.skill === skill)
    .sort((a, b) => Date.parse(a.startedAt) - Date.parse(b.startedAt));
