import { z } from 'zod';
import {
  AssessmentSchema,
  EvidenceSchema,
  OutcomeSchema,
  type VoiceOverNoise,
} from '../../marking/assessment.ts';
import type { SkillResult, TestResult } from '../../run/mockTest.ts';
import { CAUTION } from '../../marking/result.ts';
import type { TestPlan } from '../../run/testPlan.ts';

/** The marked result of a mock test as one document: what `sinkside mock --json` prints. Times as in an assessment. */

const seconds = z.number().nonnegative();
const { clocks, counts, readings, result, steps, voiceOverNoise } = AssessmentSchema.shape;
const stretch = z.strictObject({ from: seconds, to: seconds });

export const TestDocumentSchema = z.strictObject({
  schema: z.literal(1),
  form: z.string(),
  rules: z.strictObject({ id: z.string(), title: z.string() }),
  seed: z.number().int().nullable(),
  engine: z.string(),
  audioSeconds: seconds,
  processingSeconds: seconds,
  warnings: z.array(z.string()),
  skills: z.array(
    z.strictObject({
      skill: z.string(),
      title: z.string(),
      variants: z.record(z.string(), z.string()),
      /** Whether the test came to it. */
      reached: z.boolean(),
      from: seconds.nullable(),
      to: seconds.nullable(),
      steps,
      clocks,
      counts,
      readings,
      result,
      /** Slips that were put right while it was open: what they were before. */
      repairs: z.array(z.strictObject({ step: z.string(), slip: OutcomeSchema, evidence: EvidenceSchema })),
      /** Its steps that were said after it had been closed, and earned nothing. */
      late: z.array(z.strictObject({ skill: z.number().int(), step: z.string(), evidence: EvidenceSchema })),
      breaks: z.array(seconds),
      pauses: z.array(stretch),
      voiceOverNoise,
    }),
  ),
  result: z.strictObject({
    passed: z.boolean(),
    passedSkills: z.number().int().nonnegative(),
    needed: z.number().int().positive(),
    /** When the time was up; null when it was not. */
    timeUp: seconds.nullable(),
  }),
  caution: z.string(),
});
export type TestDocument = z.infer<typeof TestDocumentSchema>;

/**
 * The document of a mock test that has been heard.
 *
 * @param over how the voice stood over the noise in each of its skills
 */
export function toTestDocument(
  { form, rules, seed }: TestPlan,
  { skills, ...result }: TestResult,
  about: Pick<TestDocument, 'engine' | 'audioSeconds' | 'processingSeconds' | 'warnings'>,
  over: (skill: SkillResult) => VoiceOverNoise | null,
): TestDocument {
  return {
    schema: 1,
    form,
    rules: { id: rules.id, title: rules.title },
    seed,
    ...about,
    skills: skills.map((skill) => ({
      ...skill,
      variants: { ...skill.variants },
      steps: [...skill.steps],
      repairs: [...skill.repairs],
      late: [...skill.late],
      breaks: [...skill.breaks],
      pauses: [...skill.pauses],
      voiceOverNoise: over(skill),
    })),
    result,
    caution: CAUTION,
  };
}
