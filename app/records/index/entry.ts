import { z } from 'zod';
import { KeptAttemptSchema } from '../../progress/keptAttempt.ts';
import { RehearsalIdSchema } from '../header.ts';
import { RehearsalSummarySchema } from '../summary.ts';

/** What the index holds of a rehearsal: all that lists, progress and classes ask for, so that its journal need not be read for them. */
export const EntrySchema = z.object({
  /** The journal it was made from. */
  journal: z.object({ size: z.number(), changedAt: z.number() }),
  /** What it was marked by, as {@link Marker.basisOf} has it of the following two. */
  basis: z.string(),
  version: z.number().exactOptional(),
  isTest: z.boolean(),
  summary: RehearsalSummarySchema,
  /** Whether a person has judged a step of it. */
  isReviewed: z.boolean(),
  /**
   * Each whole skill of it that was reached: by the machine's marks, with what who rehearsed measured; and where somebody has reviewed it, by
   * their verdicts first.
   */
  attempts: z.array(z.object({ byMachine: KeptAttemptSchema, byPerson: KeptAttemptSchema.exactOptional() })),
});
export type Entry = z.infer<typeof EntrySchema>;

/** One file of the index. `program` stands for the program that marked what is in it. */
export const IndexFileSchema = z.object({
  program: z.string(),
  entries: z.record(RehearsalIdSchema, EntrySchema),
});
