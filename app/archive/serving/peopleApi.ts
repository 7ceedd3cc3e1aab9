/**
 * What the archive and somebody who has signed in say to each other over HTTP; the archive's page imports this. They send their token as
 * `authorization: Bearer TOKEN`. Each sees what is theirs: a trainee their own attempts without reviews, an instructor those of their
 * classes, a school its own. What is not theirs is answered as if it were not there.
 *
 *     GET  /api/me                             Me
 *     GET  /api/accounts                       Account[]                     instructor: their own and their trainees'
 *     POST /api/accounts         NewAccount →  NewToken                      instructor: for trainees of their classes
 *     POST /api/accounts/:id/token             NewToken: the one before ends
 *     DELETE /api/accounts/:id                 its token ends
 *     PUT  /api/accounts/:id/classes  ClassIds                               school: an instructor's classes
 *     GET  /api/classes                        Class[]
 *     POST /api/classes          NewClass   →  Class                         school
 *     GET  /api/people?class=ID                Person[]
 *     PUT  /api/people/:id       Renamed                                     instructor, school
 *     DELETE /api/people/:id                   a person with all attempts    instructor, school
 *     POST /api/enrolments       NewEnrolment → Enrolment                    instructor, school
 *     GET  /api/stations                       Station[]                     instructor, school
 *     DELETE /api/stations/:id                 its key ends                  instructor, school
 *     GET  /api/attempts?…                     AttemptPage, newest first; see AttemptQuery
 *     GET  /api/attempts/:id                   OneAttempt
 *     GET  /api/attempts/:id/sound             audio/flac or audio/wav
 *     POST /api/attempts/:id/review  NewReview                               instructor, school
 *     DELETE /api/attempts/:id                                               instructor, school
 *     GET  /api/audit?before=ID                AuditEntry[], newest first    school
 *
 * Whatever is refused is answered with a Problem.
 */
import { z } from 'zod';
import { ReviewEventSchema } from '../../marking/events.ts';

const id = z.uuid();
const name = z.string().trim().min(1, 'must not be empty').max(80);
const moment = z.iso.datetime();
/** Ids of rows that the database counts. */
const rowId = z.string().regex(/^\d+$/);

export const MeSchema = z.object({
  role: z.enum(['trainee', 'instructor', 'school']),
  name: z.string(),
  school: z.string(),
});
export type Me = z.infer<typeof MeSchema>;

export const NewAccountSchema = z.discriminatedUnion('role', [
  z.object({ role: z.literal('trainee'), name, person: id }),
  z.object({ role: z.literal('instructor'), name, classes: z.array(id).max(200) }),
  z.object({ role: z.literal('school'), name }),
]);
export type NewAccount = z.infer<typeof NewAccountSchema>;
/** Shown this once: the archive keeps its hash. */
export const NewTokenSchema = z.object({ id, token: z.string() });
export type NewToken = z.infer<typeof NewTokenSchema>;

export const AccountSchema = z.object({
  id,
  role: MeSchema.shape.role,
  name: z.string(),
  person: id.nullable(),
  madeAt: moment,
  revokedAt: moment.nullable(),
});
export type Account = z.infer<typeof AccountSchema>;
export const ClassIdsSchema = z.object({ classes: z.array(id).max(200) });

export const NewClassSchema = z.object({ name });
export const ClassSchema = z.object({ id, name: z.string() });
export type Class = z.infer<typeof ClassSchema>;

export const PersonQuerySchema = z.object({ class: id.optional() });
export const PersonSchema = z.object({ id, name: z.string(), class: id.nullable() });
export type Person = z.infer<typeof PersonSchema>;
export const RenamedSchema = z.object({ name });

export const NewEnrolmentSchema = z.object({ stationName: name });
/** Shown this once. It works once, until it ends. */
export const EnrolmentSchema = z.object({ code: z.string(), endsAt: moment });
export type Enrolment = z.infer<typeof EnrolmentSchema>;

export const StationSchema = z.object({
  id,
  name: z.string(),
  enrolledAt: moment,
  lastSeenAt: moment.nullable(),
  revokedAt: moment.nullable(),
});
export type Station = z.infer<typeof StationSchema>;

/** Attempts on a page at most. */
const MOST_ON_A_PAGE = 200;
export const AttemptQuerySchema = z.object({
  class: id.optional(),
  person: id.optional(),
  skill: z.string().max(100).optional(),
  /** Begun at this moment or later, and before that one. */
  from: moment.optional(),
  to: moment.optional(),
  limit: z.coerce.number().int().min(1).max(MOST_ON_A_PAGE).default(50),
  /** `next` of the page before. */
  after: z
    .string()
    .regex(/^\d{4}-[\d:T.-]+Z~\d+$/, 'is not what a page gave')
    .optional(),
});
export type AttemptQuery = z.infer<typeof AttemptQuerySchema>;

export const AttemptRowSchema = z.object({
  id: rowId,
  person: id.nullable(),
  class: id.nullable(),
  skill: z.string(),
  version: z.number().int().nullable(),
  startedAt: moment,
  seconds: z.number(),
  passed: z.boolean().nullable(),
  heard: z.number().int(),
  of: z.number().int(),
  criticalMissed: z.number().int(),
  signedOff: z.boolean(),
});
export type AttemptRow = z.infer<typeof AttemptRowSchema>;
export const AttemptPageSchema = z.object({
  attempts: z.array(AttemptRowSchema),
  /** For the page after this one; null where this is the last. */
  next: z.string().nullable(),
});
export type AttemptPage = z.infer<typeof AttemptPageSchema>;

export const OneAttemptSchema = AttemptRowSchema.extend({
  record: z.string(),
  engine: z.string(),
  /** As the station has it, one JSON value a line; what persons said last, and not for the trainee. */
  journal: z.string(),
  hasSound: z.boolean(),
  caution: z.string(),
});
export type OneAttempt = z.infer<typeof OneAttemptSchema>;

/** Who says so is the account that sends it, whatever name the events have. */
export const NewReviewSchema = z.object({ events: z.array(ReviewEventSchema).min(1).max(500) });

export const AuditQuerySchema = z.object({ before: rowId.optional() });
export const AuditEntrySchema = z.object({
  id: rowId,
  at: moment,
  who: z.string(),
  did: z.string(),
  what: z.string(),
});
export type AuditEntry = z.infer<typeof AuditEntrySchema>;
