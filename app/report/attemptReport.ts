import { z } from 'zod';
import { tally } from '../agreement/agreement.ts';
import { pairsOf } from '../agreement/pairs.ts';
import { AssessmentSchema } from '../marking/assessment.ts';
import { CAUTION, markRehearsal } from '../marking/result.ts';
import type { State } from '../marking/state.ts';
import { attemptOf, creditedOf, criticalMissed, judgedOf } from '../progress/attempt.ts';
import { missedIn } from '../progress/trainee.ts';
import type { Review } from '../review/review.ts';
import { personsResult, sideBySide, type Row } from '../review/sideBySide.ts';
import type { Checklist } from '../skills/checklist.ts';

/** What one rehearsal came to, machine and person side by side, as one document. Moments are seconds of the recording. */

const seconds = z.number().nonnegative();
const count = z.number().int().nonnegative();
/** Day and time with the offset of the place where the report was made. */
const moment = z.iso.datetime({ offset: true });
const { outcome, manner } = AssessmentSchema.shape.steps.element.shape;

const StepReportSchema = z.strictObject({
  id: z.string(),
  text: z.string(),
  critical: z.boolean(),
  /** Null where this version of the skill has no such step any more. */
  machine: z
    .strictObject({
      outcome,
      manner,
      at: seconds.nullable(),
      /** The words that the mark rests on, as recognised; empty for none. */
      words: z.string(),
      note: z.string(),
    })
    .nullable(),
  /** Null while no person has judged. */
  person: z
    .strictObject({
      verdict: z.enum(['yes', 'no', 'unsure']),
      by: z.string(),
      madeAt: moment,
      reason: z.string(),
      heardAt: seconds.nullable(),
      /** Whether the machine's mark was hidden until then. */
      blind: z.boolean(),
    })
    .nullable(),
});
export type StepReport = z.infer<typeof StepReportSchema>;

const ReadingReportSchema = z.strictObject({
  step: z.string(),
  text: z.string(),
  unit: z.string(),
  /** Null where no number was heard; `sure` is false where it may be one of `rivals` instead. */
  said: z.number().nullable(),
  sure: z.boolean(),
  rivals: z.array(z.number()),
  /** Null while nobody has measured it. */
  measured: z.number().nullable(),
  measuredBy: z.enum(['reviewer', 'rehearser', 'simulated resident']).nullable(),
  /** How far the two may lie apart by the rules; null where they do not say. */
  tolerance: z.number().nullable(),
  /** Null while one of the three is missing. */
  within: z.boolean().nullable(),
});
export type ReadingReport = z.infer<typeof ReadingReportSchema>;

const ResultSchema = z.strictObject({
  /** Null where only a part of the skill was rehearsed, or not every step has a verdict. */
  passed: z.boolean().nullable(),
  credited: count,
  of: count,
  /** Texts of the critical steps that were not credited. */
  criticalMissed: z.array(z.string()),
});

const SkillReportSchema = z.strictObject({
  skill: z.string(),
  title: z.string(),
  version: z.number().int().positive(),
  variants: z.record(z.string(), z.string()),
  rules: z.strictObject({ id: z.string(), title: z.string() }),
  /** Whether the whole skill was rehearsed. */
  whole: z.boolean(),
  /** By the machine's marks alone. */
  machine: ResultSchema,
  /** By the persons' verdicts alone; null where there are none. */
  person: ResultSchema.nullable(),
  /** By the person's verdict where there is one, else by the machine's mark; a number beyond the tolerance is no credit. */
  together: ResultSchema,
  /** Over the steps that both judged; null where there are none. A `miss` is a step that the person alone credits. */
  agreement: z
    .strictObject({ alike: count, of: count, falseCredits: count, misses: count, open: count })
    .nullable(),
  signedOff: z.strictObject({ by: z.string(), madeAt: moment }).nullable(),
  steps: z.array(StepReportSchema),
  clocks: AssessmentSchema.shape.clocks,
  counts: AssessmentSchema.shape.counts,
  readings: z.array(ReadingReportSchema),
  /** Share of the time narrated in which there was something to say, 0–1; null where there was none. */
  narrated: z.number().nullable(),
  longestSilence: seconds,
  /** Texts of the steps to practise next, the critical ones first. */
  toPractise: z.array(z.string()),
});
export type SkillReport = z.infer<typeof SkillReportSchema>;

export const AttemptReportSchema = z.strictObject({
  schema: z.literal(1),
  kind: z.literal('attempt'),
  /** Id of the record. */
  id: z.string(),
  /** Null for nobody in particular. */
  trainee: z.strictObject({ name: z.string(), class: z.string() }).nullable(),
  startedAt: moment,
  /** Length of the recording. */
  seconds,
  /** What listened: engine and model. */
  engine: z.string(),
  /** Title of the mock test; null for a rehearsal of one skill. */
  test: z.string().nullable(),
  /** One, or those of a test that were reached. */
  skills: z.array(SkillReportSchema),
  comments: z.array(z.strictObject({ at: seconds, text: z.string(), by: z.string(), madeAt: moment })),
  /** What is to be said about the record itself. */
  notes: z.array(z.string()),
  caution: z.string(),
});
export type AttemptReport = z.infer<typeof AttemptReportSchema>;

/** What is known of a record besides its skills. */
export type AboutAttempt = Pick<
  AttemptReport,
  'id' | 'trainee' | 'startedAt' | 'seconds' | 'engine' | 'test' | 'notes'
>;

/** One skill of a record: what the machine marks it by, and what persons said of it. */
export interface ReportedSkill {
  /** With the steps that were rehearsed. */
  readonly checklist: Checklist;
  readonly state: State;
  readonly review: Review;
  /** Whether these are all steps of the skill. */
  readonly whole: boolean;
}

/** Writes a moment in UTC with the offset of the place where the report is made. */
export type InLocalTime = (iso: string) => string;

/** The report of one record. Pure. */
export function attemptReport(
  about: AboutAttempt,
  skills: readonly ReportedSkill[],
  local: InLocalTime,
): AttemptReport {
  // Comments belong to the whole record: every skill's review has the same.
  const comments = skills[0]?.review.comments ?? [];
  return {
    schema: 1,
    kind: 'attempt',
    ...about,
    startedAt: local(about.startedAt),
    skills: skills.map((skill) => skillReport(about, skill, local)),
    comments: comments.map(({ at, text, by, madeAt }) => ({ at, text, by, madeAt: local(madeAt) })),
    caution: CAUTION,
  };
}

function skillReport(about: AboutAttempt, reported: ReportedSkill, local: InLocalTime): SkillReport {
  const { checklist, state, review, whole } = reported;
  const { skill, rules, variants } = checklist;
  const { id, startedAt, engine } = about;
  const rows = sideBySide(checklist, state, review);
  const { clocks, counts } = markRehearsal(checklist, state);
  const attempt = attemptOf({ id, startedAt, trainee: null }, checklist, state, review);
  const { signedOff } = review;
  return {
    skill: skill.id,
    title: skill.title,
    version: skill.version,
    variants: { ...variants },
    rules: { id: rules.id, title: rules.title },
    whole,
    ...resultsOf(reported, rows, attempt),
    agreement: agreementOf(pairsOf({ attempt: id, engine }, checklist, state, review)),
    signedOff: signedOff && { by: signedOff.by, madeAt: local(signedOff.madeAt) },
    steps: rows.map((row) => stepReport(row, local)),
    clocks,
    counts,
    readings: rows.flatMap((row) => readingReport(row, state)),
    narrated: attempt.narrated,
    longestSilence: attempt.longestSilence,
    toPractise: missedIn([attempt]).map(({ text }) => text),
  };
}

type Results = Pick<SkillReport, 'machine' | 'person' | 'together'>;

function resultsOf(
  { checklist, state, whole }: ReportedSkill,
  rows: readonly Row[],
  attempt: ReturnType<typeof attemptOf>,
): Results {
  const { result } = markRehearsal(checklist, state);
  const persons = personsResult(rows, checklist.rules);
  const textOf = (id: string): string => rows.find(({ step }) => step === id)?.text ?? id;
  return {
    machine: {
      passed: whole ? result.passed : null,
      credited: result.heard,
      of: result.of,
      criticalMissed: result.criticalMissed.map(textOf),
    },
    person: rows.some(({ verdict }) => verdict !== null)
      ? {
          passed: whole ? persons.passed : null,
          credited: persons.yes,
          of: persons.of,
          criticalMissed: persons.criticalMissed.map(textOf),
        }
      : null,
    together: {
      passed: whole ? attempt.passed : null,
      credited: creditedOf(attempt.steps),
      of: judgedOf(attempt.steps),
      criticalMissed: criticalMissed(attempt.steps).map(({ text }) => text),
    },
  };
}

function agreementOf(pairs: ReturnType<typeof pairsOf>): SkillReport['agreement'] {
  if (pairs.length === 0) return null;
  const { judged, bothYes, bothNo, falseCredits, misses, open } = tally(pairs);
  return { alike: bothYes + bothNo, of: judged, falseCredits, misses, open };
}

const stepReport = ({ step, text, critical, mark, verdict }: Row, local: InLocalTime): StepReport => ({
  id: step,
  text,
  critical,
  machine: mark && {
    outcome: mark.outcome,
    manner: mark.manner,
    at: mark.at,
    words: mark.evidence?.text ?? '',
    note: mark.note,
  },
  person: verdict && {
    verdict: verdict.verdict,
    by: verdict.by,
    madeAt: local(verdict.madeAt),
    reason: verdict.reason,
    heardAt: verdict.heardAt,
    blind: verdict.blind,
  },
});

function readingReport({ step, text, measure }: Row, { readings }: State): ReadingReport[] {
  if (!measure) return [];
  const { unit, said, truth, measuredBy, tolerance, within } = measure;
  const { sure = false, rivals = [] } = readings[step] ?? {};
  return [
    { step, text, unit, said, sure, rivals: [...rivals], measured: truth, measuredBy, tolerance, within },
  ];
}
