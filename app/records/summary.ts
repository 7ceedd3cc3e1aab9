import { z } from 'zod';
import { AssessmentSchema } from '../marking/assessment.ts';
import { RehearsalIdSchema } from './header.ts';

/** A rehearsal at a glance. */
export const RehearsalSummarySchema = z.object({
  id: RehearsalIdSchema,
  skill: z.string(),
  title: z.string(),
  /** The version of the skill it is marked under; null where it is not marked. */
  version: z.number().int().positive().nullable(),
  startedAt: z.iso.datetime(),
  /** As in the header; `unknown` where that is lost. */
  trainee: z.string().nullable().exactOptional(),
  /** Length of the recording. */
  seconds: z.number().nonnegative(),
  /** `interrupted`: it was never ended. The one now being rehearsed is among those. */
  state: z.enum(['ended', 'interrupted']),
  ...AssessmentSchema.shape.result.shape,
  /** Null: not for a part of a skill, nor for what could not be marked. */
  passed: z.boolean().nullable(),
  /** How each skill of it went: one, or those of a mock test that were reached. Empty where it could not be marked. */
  skills: z.array(
    z.object({
      skill: z.string(),
      heard: z.number(),
      of: z.number(),
      criticalMissed: z.array(z.string()),
    }),
  ),
  /** What is wrong: a damaged journal, a skill that is no longer there (then nothing is marked). Mostly empty. */
  note: z.string(),
});
export type RehearsalSummary = z.infer<typeof RehearsalSummarySchema>;
