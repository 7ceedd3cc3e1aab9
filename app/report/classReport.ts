import { z } from 'zod';
import { AgreementSchema } from '../agreement/agreement.ts';
import { CAUTION } from '../marking/result.ts';
import type { Attempt } from '../progress/attempt.ts';
import { hardestSteps, heatMap, notPractised, readiness } from '../progress/classView.ts';
import { worthPractising } from '../progress/nextPractice.ts';
import { pointOf } from '../progress/trainee.ts';

/** How a class gets on, as one document. People stand by name, never by merit. */

const count = z.number().int().nonnegative();

const SkillOfClassSchema = z.strictObject({
  skill: z.string(),
  title: z.string(),
  attempts: count,
  /** The steps missed in somebody's last attempt, the critical ones first, then by how many people missed them. */
  missedMost: z.array(
    z.strictObject({
      step: z.string(),
      text: z.string(),
      critical: z.boolean(),
      /** People whose last attempt missed it, and whose last attempt could be judged. */
      missed: count,
      of: count,
    }),
  ),
  notTried: z.array(z.string()),
  /** Everybody's last attempt, step by step. */
  steps: z.array(z.strictObject({ step: z.string(), text: z.string(), critical: z.boolean() })),
  people: z.array(
    z.strictObject({
      name: z.string(),
      /** They go with `steps`; null: not tried, not judged, or no such step then. */
      credited: z.array(z.boolean().nullable()),
      ready: z.boolean(),
      /** Why not: `not steady` is not passed twice in a row, `long ago` passed, but not lately. Null for who is ready. */
      why: z.enum(['not tried', 'not steady', 'long ago']).nullable(),
    }),
  ),
});
export type SkillOfClass = z.infer<typeof SkillOfClassSchema>;

export const ClassReportSchema = z.strictObject({
  schema: z.literal(1),
  kind: z.literal('class'),
  /** Day and time with the offset of the place where it was made. */
  madeAt: z.iso.datetime({ offset: true }),
  /** Which class, skills and days it is about, in words. */
  about: z.string(),
  attempts: count,
  skills: z.array(SkillOfClassSchema),
  /** What each should practise next, by the rule of app/progress/nextPractice.ts. */
  people: z.array(
    z.strictObject({
      name: z.string(),
      attempts: count,
      next: z.array(z.strictObject({ title: z.string(), reason: z.string() })),
    }),
  ),
  /** Of machine and persons over the attempts of it that were reviewed; null where none was. */
  agreement: AgreementSchema.nullable(),
  /** What could not be looked at, and why. */
  leftOut: z.array(z.string()),
  caution: z.string(),
});
export type ClassReport = z.infer<typeof ClassReportSchema>;

/** What a report of a class is made of. */
export interface ReportedClass {
  readonly madeAt: string;
  readonly about: string;
  /** Names of its people, each once. */
  readonly people: readonly string[];
  /** The skills that it is about. */
  readonly skills: readonly { readonly id: string; readonly title: string }[];
  /** Of these people by name, at these skills. */
  readonly attempts: readonly Attempt[];
  readonly agreement: ClassReport['agreement'];
  readonly leftOut: readonly string[];
}

/** Skills that are proposed to one person. */
const MOST_NEXT = 3;

/** The report of a class. Pure. */
export function classReport(reported: ReportedClass): ClassReport {
  const { madeAt, about, people, skills, attempts, agreement, leftOut } = reported;
  const tried = skills.filter(({ id }) => attempts.some(({ skill }) => skill === id));
  const names = [...people].sort((a, b) => a.localeCompare(b, 'en'));
  return {
    schema: 1,
    kind: 'class',
    madeAt,
    about,
    attempts: attempts.length,
    skills: tried.map((skill) => skillOfClass(skill, names, attempts, madeAt)),
    people: names.map((name) => {
      const own = attempts.filter(({ trainee }) => trainee === name);
      const next = worthPractising(skills, own.map(pointOf), madeAt).slice(0, MOST_NEXT);
      return { name, attempts: own.length, next: next.map(({ title, reason }) => ({ title, reason })) };
    }),
    agreement,
    leftOut: [...leftOut],
    caution: CAUTION,
  };
}

function skillOfClass(
  { id, title }: { readonly id: string; readonly title: string },
  people: readonly string[],
  attempts: readonly Attempt[],
  now: string,
): SkillOfClass {
  const map = heatMap(people, attempts, id);
  return {
    skill: id,
    title,
    attempts: attempts.filter(({ skill }) => skill === id).length,
    missedMost: hardestSteps(attempts, id) ?? [],
    notTried: notPractised(people, attempts, id),
    steps: map.steps.map((step) => ({ ...step })),
    people: map.trainees.map(({ name, cells }) => {
      const own = attempts.filter(({ trainee }) => trainee === name);
      const standing = readiness(own, id, now);
      return {
        name,
        credited: [...cells],
        ready: standing.ready,
        why: standing.ready ? null : standing.why,
      };
    }),
  };
}
