/**
 * What the host and the renderer say to each other over HTTP; both import this. Times are seconds of the recording
 * unless a name ends in At.
 *
 *     GET  /api/host                               HostStanding
 *     GET  /api/library                            Library
 *     GET  /api/models                             ModelStanding[]
 *     POST /api/models/:id/get                     text/event-stream of InstallProgress
 *     GET  /models/:id/:file                       bytes of the model; of packages: detector/silero_vad_v5.onnx, kaldi/vosk.js, judge/judge.onnx
 *     GET  /api/demo                               Demo
 *     GET  /api/demo/sound                         16-bit little-endian mono PCM at 16 kHz
 *     GET  /api/settings                           Settings
 *     PUT  /api/settings             Settings   →  Settings
 *     GET  /api/rehearsals                         RehearsalSummary[], all of them, newest first
 *     POST /api/rehearsals           NewRehearsal → Created
 *     GET  /api/rehearsals/:id                     Rehearsal
 *     DELETE /api/rehearsals/:id                   nothing; refused while somebody else is rehearsing it
 *     POST /api/rehearsals/:id/writer              NewWriter: who asks writes it from now on, and nobody else
 *     POST /api/rehearsals/:id/copy  CopyFirst   → Created: a rehearsal of its own
 *     POST /api/rehearsals/:id/events  NewEvents →  Kept
 *     POST /api/rehearsals/:id/review  NewReview →  Kept; refused while somebody is rehearsing it. For the instructor; who rehearsed adds measured values
 *     POST /api/rehearsals/:id/sound?from=SAMPLES  16-bit little-endian mono PCM at 16 kHz → KeptSound
 *     GET  /api/rehearsals/:id/sound               audio/wav, ranges supported
 *     GET  /api/rehearsals/:id/report.html         a page that works alone; also report.csv, and report.json: AttemptReport
 *     GET  /api/class/report.html?ClassAsked       the same of a class; also report.csv, and report.json: ClassReport; for the instructor
 *     GET  /api/readings                           ReadingsReply: what may be seen, person by person
 *     POST /api/readings             NewReadings              of the person chosen, at the bench
 *     GET  /api/people                             People
 *     POST /api/people               NewTrainee →  Trainee
 *     PUT  /api/people/:id           NewTrainee                for the instructor
 *     DELETE /api/people/:id                       a person with all rehearsals; for the instructor
 *     PUT  /api/people/:id/consent   Decision                  for the person and the instructor
 *     PUT  /api/people/keeping       Keeping                   for the instructor
 *     POST /api/people/told                        what was deleted for its age was told; for the instructor
 *     POST /api/instructor/enter     PassphraseTried → NewSession
 *     POST /api/instructor/leave
 *     PUT  /api/instructor/passphrase  NewPassphrase → NewSession; for the instructor
 *     DELETE /api/instructor/passphrase            for the instructor
 *     GET  /api/archive                            SendingStanding, or null while no archive is set; for the instructor
 *     POST /api/archive/enrol        NewEnrolment              for the instructor, as all below
 *     PUT  /api/archive/sending      Sending
 *     POST /api/archive/now                        sends what waits, and what was refused once more
 *     DELETE /api/archive                          forgets the archive and this station's key
 *     GET  /api/agreement                          AgreementReply: machine and persons over every reviewed rehearsal
 *     GET  /api/rehearsals/latest, /api/rehearsals/found, /api/attempts/:skill   see foundApi.ts
 *     …    /api/skills/…                           see skillsApi.ts
 *     …    /api/bundle…                            see bundlesApi.ts
 *
 * A rehearsal has one writer: events and sound are taken with its token in the header {@link WRITER_HEADER} only.
 * The instructor is who sends the token of a session in {@link INSTRUCTOR_HEADER}, and everybody while no passphrase is set. All
 * others see and delete only rehearsals of nobody and of the trainee whose id they send in {@link TRAINEE_HEADER}, without reviews but
 * for what they measured themselves.
 * Whatever is refused is answered with a Problem.
 */
import { z } from 'zod';
import { AgreementSchema } from '../agreement/agreement.ts';
import { ReadingTakenSchema } from '../bench/readings/taken.ts';
import { ENGINES } from '../settings/choice.ts';
import { HeaderSchema, NewRehearsalSchema, RehearsalIdSchema } from '../records/header.ts';
import { DeletedSchema, KeptDaysSchema, NewTraineeSchema, TraineeSchema } from '../people/trainee.ts';
import { RehearsalSummarySchema, type RehearsalSummary } from '../records/summary.ts';
import { SendingStandingSchema } from '../sending/standing.ts';
import { SettingsSchema } from '../settings/settings.ts';
import { RehearsalEventSchema, ReviewEventSchema } from '../marking/events.ts';
import { FaultSchema } from '../faults/faults.ts';
import { FormSchema } from '../skills/form.ts';
import { CareSchema, LexiconSchema, RulesSchema, SkillSchema } from '../skills/skill.ts';

export * from './apis/foundApi.ts';
export * from './apis/bundlesApi.ts';
export * from './apis/skillsApi.ts';
export { NewRehearsalSchema, NewTraineeSchema, RehearsalSummarySchema, SettingsSchema, TraineeSchema };
export type { RehearsalSummary };
export type { NewRehearsal } from '../records/header.ts';
export type { NewTrainee, Trainee } from '../people/trainee.ts';
export type { Settings } from '../settings/settings.ts';

/** Largest JSON body taken, in bytes: some 3000 events. */
export const MOST_JSON_BYTES = 1 << 20;
/** Largest piece of sound taken at once, in bytes: 4 minutes. */
export const MOST_SOUND_BYTES = 8 << 20;

/** Carries the token of a rehearsal's writer. */
export const WRITER_HEADER = 'sinkside-writer';
/** Carries the token of the instructor's session; for sound it may stand in the query, under the same name. */
export const INSTRUCTOR_HEADER = 'sinkside-instructor';
/** Carries the id of the trainee that is chosen; for sound it may stand in the query, under the same name. */
export const TRAINEE_HEADER = 'sinkside-trainee';

/** Why a request was refused, where the fault lies, and what to do about it. */
export const ProblemSchema = z.object({
  error: z.string(),
  where: z.string(),
  advice: z.string(),
  /** Where events were not, or not all, taken: how many the journal holds. Send from there. */
  kept: z.number().int().nonnegative().optional(),
  /** The same for sound, in samples. */
  samples: z.number().int().nonnegative().optional(),
  /**
   * Another window writes the rehearsal, or other content stands there already. Sending it again is no use; a copy of what was
   * kept before can take it.
   */
  conflict: z.boolean().optional(),
  /** Where a skill file or pack was not taken: everything that is wrong with it. */
  faults: z.array(FaultSchema).optional(),
});
export type Problem = z.infer<typeof ProblemSchema>;

export const LibrarySchema = z.object({
  skills: z.array(SkillSchema),
  lexicon: LexiconSchema,
  /** Steps that skills share. */
  care: CareSchema,
  /** The rules of a plain rehearsal. */
  rules: RulesSchema,
  /** All rules, and the forms of mock tests. */
  ruleSets: z.array(RulesSchema),
  forms: z.array(FormSchema),
  /** What is wrong with skill files that were left out. */
  faults: z.array(FaultSchema),
});
export type Library = z.infer<typeof LibrarySchema>;

export const ModelStandingSchema = z.object({
  id: z.string(),
  /** What runs it. */
  engine: z.enum(ENGINES),
  installed: z.enum(['installed', 'missing', 'corrupt']),
  /** Bytes of all its files. */
  bytes: z.number(),
  /** SPDX identifier. */
  licence: z.string(),
  note: z.string(),
  /** Whether it was made for people's voices. */
  forPeople: z.boolean(),
  /** What is wrong and what to do; empty when it is installed. */
  message: z.string(),
  /** Names of its files, to be had under /models/ID/. */
  files: z.array(z.string()),
});
export type ModelStanding = z.infer<typeof ModelStandingSchema>;
export const ModelsSchema = z.array(ModelStandingSchema);

/** The built-in narration, line by line with silences in seconds; its recording comes beside it. */
export const DemoSchema = z.object({ skill: z.string(), says: z.array(z.union([z.string(), z.number()])) });
export type Demo = z.infer<typeof DemoSchema>;

/** One message of the stream that tells how getting a model goes; the last is `done` or `error`. */
export const InstallProgressSchema = z.discriminatedUnion('type', [
  /** A source is tried; `totalBytes` is what it will send. */
  z.object({ type: z.literal('source'), name: z.string(), totalBytes: z.number() }),
  /** Bytes of it that are there. */
  z.object({ type: z.literal('bytes'), bytes: z.number() }),
  /** That source could not give it; the next is tried. */
  z.object({ type: z.literal('failed'), why: z.string() }),
  /** No checksum of this file was known: this one is checked from now on. */
  z.object({
    type: z.literal('recorded'),
    file: z.string(),
    bytes: z.number(),
    sha256: z.string(),
    from: z.string(),
  }),
  z.object({ type: z.literal('done') }),
  z.object({ type: z.literal('error'), message: z.string() }),
]);
export type InstallProgress = z.infer<typeof InstallProgressSchema>;

export const NewEventsSchema = z.object({
  /** Index in the journal of the first of `events`. What the journal has already must be the same, and is not taken again. */
  from: z.number().int().nonnegative(),
  events: z.array(RehearsalEventSchema),
});

/** What a person says of a rehearsal: added at the journal's end, by whoever sends it. */
export const NewReviewSchema = z.object({ events: z.array(ReviewEventSchema).min(1) });

/** How many events the journal holds now, on disk: the index that the next one gets. */
export const KeptSchema = z.object({ kept: z.number().int().nonnegative() });
/** How many samples of sound are on disk now: where the next piece begins. */
export const KeptSoundSchema = z.object({ samples: z.number().int().nonnegative() });
/** The token of who writes a rehearsal from now on. */
export const NewWriterSchema = z.object({ writer: z.string() });
export const CreatedSchema = NewWriterSchema.extend({ id: RehearsalIdSchema });
/** How much of a rehearsal a copy begins with. */
export const CopyFirstSchema = z.object({
  events: z.number().int().nonnegative(),
  samples: z.number().int().nonnegative(),
});
export type CopyFirst = z.infer<typeof CopyFirstSchema>;

/** Who rehearses on this machine, and what the page may do. */
export const PeopleSchema = z.object({
  trainees: z.array(TraineeSchema),
  /** Id of who is chosen in the page that asks; null for nobody. */
  chosen: z.string().nullable(),
  /** Whether the page that asks may do what the instructor may. */
  isInstructor: z.boolean(),
  hasPassphrase: z.boolean(),
  /** Days that rehearsals are kept; null: until somebody deletes them. */
  keptDays: KeptDaysSchema,
  /** What was deleted for its age, to be told once; null for nothing, and where the page is not the instructor's. */
  deleted: DeletedSchema.nullable(),
  /** The school to whose archive this machine sends; null for none. */
  school: z.string().nullable(),
});
export type People = z.infer<typeof PeopleSchema>;

/** `sends`: whether rehearsals may also go to the school's archive; left out where that was not asked. */
export const DecisionSchema = z.object({ agreed: z.boolean(), sends: z.boolean().exactOptional() });
export type Decision = z.infer<typeof DecisionSchema>;
export const KeepingSchema = z.object({ keptDays: KeptDaysSchema });
export const PassphraseTriedSchema = z.object({ passphrase: z.string().max(1000) });
/** At least 8 characters: NIST SP 800-63B, from memory. */
export const NewPassphraseSchema = z.object({
  passphrase: z.string().min(8, 'must have at least 8 characters').max(200),
});
export const NewSessionSchema = z.object({ token: z.string() });

/** Which host this is: its lock of the data folder has the same id. */
export const HostStandingSchema = z.object({ id: z.string() });

export const RehearsalsSchema = z.array(RehearsalSummarySchema);

export const RehearsalSchema = z.object({
  header: HeaderSchema,
  events: z.array(RehearsalEventSchema),
  /** What of the journal could not be read, with its line. */
  faults: z.array(FaultSchema),
  /** Index that the next event gets; unreadable lines count. */
  kept: z.number().int().nonnegative(),
  /** Samples of sound there are, at 16 kHz. */
  samples: z.number().int().nonnegative(),
});
export type Rehearsal = z.infer<typeof RehearsalSchema>;

/** With what this machine is enrolled at the school's archive: its address, and a code that works once. */
export const NewEnrolmentSchema = z.object({
  address: z.string().trim().min(1),
  code: z.string().trim().min(1),
});
export const SendingSchema = z.object({ isOn: z.boolean() });
export const ArchiveReplySchema = SendingStandingSchema.nullable();
export type { SendingStanding } from '../sending/standing.ts';

/** Readings with their truth, of each person; null for nobody in particular. */
export const ReadingsReplySchema = z.array(
  z.object({ trainee: z.string().nullable(), readings: z.array(ReadingTakenSchema) }),
);
export type ReadingsReply = z.infer<typeof ReadingsReplySchema>;
export const NewReadingsSchema = z.object({ readings: z.array(ReadingTakenSchema).min(1).max(10) });

export const AgreementReplySchema = z.object({
  agreement: AgreementSchema,
  /** Reviewed rehearsals that cannot be compared any more, and why. */
  leftOut: z.array(z.string()),
});
export type AgreementReply = z.infer<typeof AgreementReplySchema>;

export const REPORT_FORMATS = ['html', 'csv', 'json'] as const;
export type ReportFormat = (typeof REPORT_FORMATS)[number];

/** Which class a report is about: all of it where a field is left out. */
export const ClassAskedSchema = z.object({
  /** As it is entered with the trainees; empty for those without one. */
  class: z.string().max(80).optional(),
  /** Ids of skills. */
  skills: z.array(z.string().max(100)).min(1).optional(),
  /** First and last day, in this machine's time. */
  from: z.iso.date().optional(),
  to: z.iso.date().optional(),
});
export type ClassAsked = z.infer<typeof ClassAskedSchema>;

/** A report that is to be a PDF. */
export interface PdfAsked {
  /** Its address on this host, from the first slash on. */
  readonly address: string;
  /** Headers that go with the request, so that the host knows what the page may see. */
  readonly headers: Readonly<Record<string, string>>;
  /** What the file is to be called, without its ending. */
  readonly name: string;
}

/** What the Electron shell puts into the page as `window.sinkside`; absent in a browser. */
export interface DesktopBridge {
  /** Names what must be done before the window closes: sending what is not yet kept. It is waited for, a few seconds. */
  onClosing(flush: () => Promise<void>): void;
  /** Saves a report as PDF where the user says; answers whether it was saved, and rejects where it could not be. */
  savePdf(asked: PdfAsked): Promise<boolean>;
}
