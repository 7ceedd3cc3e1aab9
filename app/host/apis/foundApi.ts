/**
 * What the host and the renderer say to each other of many rehearsals; see api.ts. Of all that is kept, only what is drawn is sent.
 *
 *     GET  /api/rehearsals/latest                  Latest: what the screens rest on, of who is chosen
 *     GET  /api/rehearsals/found?Finding           Found: the newest of those looked for
 *     GET  /api/attempts/:skill                    AttemptsReply: all at a whole skill, newest first
 *
 * Where much must be read first, as after an update, the answer holds what is known so far, and says how far it is: ask again.
 */
import { z } from 'zod';
import { AttemptsAtSchema } from '../../progress/keptAttempt.ts';
import { RehearsalSummarySchema } from '../../records/summary.ts';

const count = z.number().int().nonnegative();

/** How many rehearsals were read, of how many; null where all are known. */
const reading = z.object({ done: count, of: count }).nullable();

export const LatestSchema = z.object({
  /** The latest runs of each skill, and those that were cut off, newest first. */
  rehearsals: z.array(RehearsalSummarySchema),
  /** How many there are in all. */
  of: count,
  /** How many there are of each trainee, by id, as far as they may be seen. */
  counts: z.record(z.string(), count),
  reading,
});
export type Latest = z.infer<typeof LatestSchema>;

/** What is looked for, as a query; what is left out asks for nothing. */
export const FindingSchema = z.object({
  /** Id of a skill. */
  skill: z.string().default(''),
  /** Name of a class. */
  class: z.string().default(''),
  /** Id of a trainee: theirs, and those of nobody in particular. */
  trainee: z.string().default(''),
  /** When they began: at this moment or later, and before that one. */
  from: z.iso.datetime().nullable().default(null),
  to: z.iso.datetime().nullable().default(null),
  /** How many are answered at the most. */
  most: z.coerce.number().int().min(1).max(10_000).default(30),
});
export type Finding = z.input<typeof FindingSchema>;

export const FoundSchema = z.object({
  /** The newest of them. */
  rehearsals: z.array(RehearsalSummarySchema),
  /** How many are like that, of how many that may be seen. */
  found: count,
  of: count,
  reading,
});
export type Found = z.infer<typeof FoundSchema>;

export const AttemptsReplySchema = AttemptsAtSchema.extend({ reading });
export type AttemptsReply = z.infer<typeof AttemptsReplySchema>;
