/**
 * What a station and the archive say to each other over HTTP; both import this. A station sends its key as
 * `authorization: Bearer KEY`; an unknown or revoked one is answered with 401.
 *
 *     POST /api/enrol             Enrol → Enrolled        needs no key: the code works once; 403 where it does not
 *     GET  /api/station           Contact                 what the archive asks of the station
 *     POST /api/station/bundles   a bundle (application/zip) → Taken
 *     POST /api/station/gone      Gone                    what is no longer at the station, whoever deleted it; answers 204
 *
 * Whatever is refused is answered with a Problem.
 */
import { z } from 'zod';
import { RehearsalIdSchema } from '../../records/header.ts';

/** Why a request was refused, where the fault lies, and what to do about it. */
export const ProblemSchema = z.object({ error: z.string(), where: z.string(), advice: z.string() });
export type Problem = z.infer<typeof ProblemSchema>;

export const EnrolSchema = z.object({ code: z.string().trim().min(1).max(100) });

/** A station's key is shown here only; the archive keeps its hash. */
export const EnrolledSchema = z.object({
  station: z.object({ id: z.uuid(), name: z.string() }),
  school: z.string(),
  key: z.string().min(1),
});
export type Enrolled = z.infer<typeof EnrolledSchema>;

/** What the archive asks of a station each time. */
export const ContactSchema = z.object({
  station: z.string(),
  school: z.string(),
  /** Records that were deleted at the archive, which the station has not said to be gone. */
  deletions: z.array(z.object({ record: RehearsalIdSchema, deletedAt: z.iso.datetime() })),
});
export type Contact = z.infer<typeof ContactSchema>;

/** Where each record of a bundle went. `already`: the same content is there. */
export const TakenSchema = z.object({
  taken: z.array(RehearsalIdSchema),
  already: z.array(RehearsalIdSchema),
  replaced: z.array(RehearsalIdSchema),
  refused: z.array(z.object({ record: RehearsalIdSchema, why: z.string() })),
});
export type Taken = z.infer<typeof TakenSchema>;

/** Records that are deleted at the station, and when. The archive deletes what it has of them. */
export const GoneSchema = z.object({
  records: z.array(z.object({ record: RehearsalIdSchema, at: z.iso.datetime() })).max(1000),
});
export type Gone = z.infer<typeof GoneSchema>;
