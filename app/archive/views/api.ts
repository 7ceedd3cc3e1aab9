import { z } from 'zod';
import { CAUTION } from '../../marking/result.ts';
import { AttemptSchema } from '../../progress/attempt.ts';

/** What the archive and its page say to each other about classes and schools. */

const count = z.number().int().nonnegative();
const version = z.number().int().positive();
const caution = z.literal(CAUTION);

/** A step as a view names it. */
const StepSchema = z.object({ step: z.string(), text: z.string(), critical: z.boolean() });

/** A step, and of how many who were judged in it how many missed it. */
const MissedSchema = StepSchema.extend({ missed: count, of: count.positive() });
export type MissedStep = z.infer<typeof MissedSchema>;

/** What a view is asked for. `from` and `to` are days in UTC, `to` the first one that is left out. */
export const AskedSchema = z.object({
  skill: z.string().min(1).optional(),
  from: z.iso.date().optional(),
  to: z.iso.date().optional(),
  /** Where the page before ended, as it said in `next`. */
  after: z.string().max(500).optional(),
});
export type Asked = z.infer<typeof AskedSchema>;

/** A class with one skill: its people, a page of them, and the last tries of each. */
export const ClassReplySchema = z.object({
  name: z.string(),
  skill: z.string(),
  trainees: z.array(z.object({ id: z.uuid(), name: z.string() })),
  /** Steps of all versions among the tries, by their ids. */
  steps: z.array(StepSchema.extend({ id: count })),
  tries: z.array(
    z.object({
      attempt: z.string(),
      trainee: z.uuid(),
      startedAt: z.iso.datetime(),
      passed: z.boolean(),
      stepIds: z.array(count),
      /** A letter a step: y credited, n not, - not judged. */
      marks: z.string(),
    }),
  ),
  /** Null on the last page. */
  next: z.string().nullable(),
  caution,
});
export type ClassReply = z.infer<typeof ClassReplySchema>;

/** A trainee's tries of one skill, the oldest first, as progress looks at them. */
export const TraineeReplySchema = z.object({ name: z.string(), attempts: z.array(AttemptSchema), caution });
export type TraineeReply = z.infer<typeof TraineeReplySchema>;

/** How the people of a class stand with one skill, by the rule of `readiness` in app/progress. */
const StandingSchema = z.object({
  skill: z.string(),
  practised: count,
  ready: count,
  notSteady: count,
  longAgo: count,
});

/** A school, class by class. */
export const SchoolReplySchema = z.object({
  name: z.string(),
  classes: z.array(
    z.object({
      id: z.uuid(),
      name: z.string(),
      people: count,
      standings: z.array(StandingSchema),
      /** With a skill: over each person's last try. Without: over all tries of the time asked for, or of the last three months. */
      missed: z.array(MissedSchema.extend({ skill: z.string() })),
    }),
  ),
  months: z.array(z.object({ month: z.iso.date(), attempts: count, passed: count, reviewed: count })),
  caution,
});
export type SchoolReply = z.infer<typeof SchoolReplySchema>;

const share = z.number().int().min(5).max(95);
const GroupSchema = StepSchema.extend({ version, people: count });

/** A skill across schools, without names. Groups that could tell of single people are left out. Shares are percents in steps of five. */
export const AcrossReplySchema = z.object({
  skill: z.string(),
  hardest: z.array(GroupSchema.extend({ missed: share })),
  agreement: z.array(GroupSchema.extend({ agree: share, falseCredits: share, misses: share })),
  caution,
});
export type AcrossReply = z.infer<typeof AcrossReplySchema>;

/** What whoever asks may choose from. */
export const ChoicesReplySchema = z.object({
  role: z.enum(['instructor', 'school']),
  school: z.uuid(),
  classes: z.array(z.object({ id: z.uuid(), name: z.string() })),
  /** Those that anybody in it has practised. */
  skills: z.array(z.object({ id: z.string(), title: z.string() })),
});
export type ChoicesReply = z.infer<typeof ChoicesReplySchema>;
