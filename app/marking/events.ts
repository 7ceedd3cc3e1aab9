import { z } from 'zod';
import { AsideReasonSchema, EvidenceSchema, OutcomeSchema } from './assessment.ts';
import { HandlingSchema } from '../bench/resident/instruments.ts';
import { PATTERNS } from '../bench/resident/resident.ts';
import { COMMANDS } from '../language/commands.ts';
import { MANNERS, STANCES } from '../language/stance.ts';
import { UtteranceSchema } from '../language/utterance.ts';
import { MEASURES } from '../skills/measure.ts';

/**
 * What happens in a rehearsal, one plain JSON value each: the journal on disk and the state on screen are both made of
 * these. Times are seconds from the start of the recording.
 */

const seconds = z.number();
/** A name that marks are looked up by, which what every object has by itself would be found under. */
const name = z.string().refine((text) => !(text in Object.prototype), 'is no name of a step or joint');
const step = name;
const evidence = EvidenceSchema.readonly();

/**
 * Why a step is only doubted: `faint` words, `sounds` alike only, `unclear` sound, the trainee's own `doubt`, `one` of two
 * engines alone has heard it, rules and learned judge differ about its `meaning`, or the rules ask about what is `begun` or `told`.
 */
const DoubtSchema = z.enum(['faint', 'sounds', 'unclear', 'doubt', 'one', 'meaning', 'begun', 'told']);
export type Doubt = z.infer<typeof DoubtSchema>;

const began = z.strictObject({
  type: z.literal('began'),
  skill: z.string(),
  variants: z.record(z.string(), z.string()).readonly(),
});

/** `used`: the tokens of the utterance that some mark rests on, so that the next utterance does not use them again. */
const heard = z.strictObject({
  type: z.literal('heard'),
  utterance: UtteranceSchema,
  used: z.array(z.number().int().nonnegative()).readonly(),
});

/** Heard and kept in the transcript, not interpreted: the coach's own voice, talk in a pause, a command. */
const aside = z.strictObject({
  type: z.literal('aside'),
  utterance: UtteranceSchema,
  why: AsideReasonSchema,
});

/** Left out where it was said as done, as in all journals of old. */
const manner = z.enum(MANNERS).exactOptional();

const credited = z.strictObject({ type: z.literal('credited'), step, evidence, manner });

/**
 * The step need not be said: it was done in an earlier skill of the test (`from`, with the skill's title), or before the
 * rehearsal (null). The evidence is that of the earlier skill.
 */
const carried = z.strictObject({
  type: z.literal('carried'),
  step,
  from: z.strictObject({ skill: z.number().int().nonnegative(), title: z.string(), step }).nullable(),
  evidence: evidence.nullable(),
  manner,
});

/** The step may have been said: not enough for a credit, enough to ask. */
const doubted = z.strictObject({ type: z.literal('doubted'), step, evidence, why: DoubtSchema });

/** Stances in journals of old, and what they are called now. */
const OLD_STANCES: Readonly<Record<string, (typeof STANCES)[number]>> = {
  planned: 'begun',
  supposed: 'hypothetical',
};

/** The step's words were said in a way that does not do it: denied, postponed, asked… */
const noted = z.strictObject({
  type: z.literal('noted'),
  step,
  evidence,
  stance: z.preprocess(
    (stance) => (typeof stance === 'string' ? (OLD_STANCES[stance] ?? stance) : stance),
    z.enum(STANCES),
  ),
});

const clock = z.strictObject({
  type: z.literal('clock'),
  step,
  move: z.enum(['start', 'on', 'halt', 'stop', 'doubt']),
  /** A start that was said as it began ("I'm going to scrub"); one said again takes its place. */
  announced: z.boolean().exactOptional(),
  at: seconds,
  /** Half-width in seconds of the interval `at` is believed to lie in. */
  uncertainty: seconds,
  /** Word of the utterance whose start or end `at` is. */
  word: z.number().int().nonnegative(),
  evidence,
});

/** The trainee has turned to a joint, by supporting it. */
const joint = z.strictObject({ type: z.literal('joint'), joint: name });

const movement = z.strictObject({
  type: z.literal('movement'),
  step,
  joint: name,
  form: z.enum(['full', 'short', 'announced', 'named']),
  evidence,
});

const repetition = z.strictObject({
  type: z.literal('repetition'),
  count: z.union([z.number().int().positive(), z.literal('again')]),
  evidence,
});

/** A number as it was said, where that was in another unit than the step's. */
const SaidInSchema = z.strictObject({ value: z.number(), unit: z.string() }).readonly();
export type SaidIn = z.infer<typeof SaidInSchema>;

/**
 * A number was said for a step, in the step's unit. One that is not `sure` is asked about: `why` (as of journals of old, `unclear`) it
 * was not heard clearly, is outside what the step allows, has the unit of something else, or is another than the one before.
 */
const reading = z.strictObject({
  type: z.literal('reading'),
  step,
  value: z.number(),
  sure: z.boolean(),
  rivals: z.array(z.number()).readonly(),
  evidence,
  why: z.enum(['unclear', 'unusual', 'other unit', 'changed']).exactOptional(),
  said: SaidInSchema.exactOptional(),
});

/** The coach read numbers back, for the trainee to object to or confirm; null stands for one that it asked for. */
const readBack = z.strictObject({
  type: z.literal('read back'),
  readings: z
    .array(z.strictObject({ step, value: z.number().nullable() }).readonly())
    .min(1)
    .readonly(),
  at: seconds,
});

/** "Yes" and "no" to a number that was read back: it stands, or it was misheard. */
const confirmed = z.strictObject({ type: z.literal('confirmed'), step, evidence });
const takenBack = z.strictObject({ type: z.literal('taken back'), step, evidence });

/** A partial result credits the step, not settled: the final one credits or withdraws it. */
const tentative = z.strictObject({ type: z.literal('tentative'), step, text: z.string(), at: seconds });

/** The final text did not bear a tentative credit out. `at` is that of the tentative one. */
const withdrawn = z.strictObject({ type: z.literal('withdrawn'), step, text: z.string(), at: seconds });

/** A command was taken. `evidence` is null for one that was pressed, not spoken. */
const commanded = z.strictObject({
  type: z.literal('commanded'),
  command: z.enum(COMMANDS),
  at: seconds,
  evidence: evidence.nullable(),
});

/** From here on only commands are understood. */
const paused = z.strictObject({
  type: z.literal('paused'),
  at: seconds,
  /** The rehearsal was broken off here, and opened again later. */
  brokenOff: z.boolean().exactOptional(),
});
const resumed = z.strictObject({ type: z.literal('resumed'), at: seconds });

/** The coach spoke. Told again with the same `from`, it replaces what was told before: `to` is known for sure at the end. */
const spoke = z.strictObject({ type: z.literal('spoke'), text: z.string(), from: seconds, to: seconds });

/** A slip was put right in a correction: what the step's mark was before. Follows the event that credits it. */
const repaired = z.strictObject({ type: z.literal('repaired'), step, slip: OutcomeSchema, evidence });

/** A mock test begins: its skills in the order they are to be done. Each begins with a `began` of its own. */
const drawn = z.strictObject({
  type: z.literal('drawn'),
  form: z.string(),
  rules: z.string(),
  /** Null where the skills were picked by hand. */
  seed: z.number().int().nullable(),
  skills: z
    .array(
      z
        .strictObject({
          skill: z.string(),
          variants: z.record(z.string(), z.string()).readonly(),
          /** The version it was sat under. */
          version: z.number().int().positive(),
        })
        .readonly(),
    )
    .min(1)
    .readonly(),
});

/** The trainee has moved on: the skill that was open is closed for good. */
const movedOn = z.strictObject({ type: z.literal('moved on'), at: seconds });

/** A step of a skill that is closed was said: too late. `skill` is its index in the test. */
const late = z.strictObject({
  type: z.literal('late'),
  skill: z.number().int().nonnegative(),
  step,
  evidence,
});

/** The time of the test is up: what is said from here on is not marked. */
const timeUp = z.strictObject({ type: z.literal('time up'), at: seconds });

/**
 * How loud the recording was in a stretch: the `noise` between two sayings, or the `speech` of one with the noise beside it taken off. Tells nothing
 * of the marks. Journals of old have none.
 */
const loudness = z.strictObject({
  type: z.literal('loudness'),
  of: z.enum(['noise', 'speech']),
  from: seconds,
  to: seconds,
  /** dB relative to full scale. */
  level: z.number(),
});

/** A simulated resident is met: all that there is to measure follows from this. */
const met = z.strictObject({
  type: z.literal('met'),
  measure: z.enum(MEASURES),
  /** The same seed gives the same resident on every machine. */
  seed: z.number().int().nonnegative(),
  pattern: z.enum(PATTERNS),
  at: seconds,
});

/** Something was done with the simulated resident or an instrument, when it was done. Counts are the moves of their step's clock. */
const handled = z.strictObject({ type: z.literal('handled'), at: seconds, how: HandlingSchema });

const ended = z.strictObject({ type: z.literal('ended'), at: seconds });

/*
 * What a person adds afterwards, beside the machine's marks. None of it changes the marks. `by` is who says so, `madeAt` when, in UTC
 * as ISO 8601 has it, and `skill` the index of the skill in the test, 0 in a rehearsal of one.
 */
const person = { by: z.string().min(1).max(200), madeAt: z.iso.datetime() };
const skill = z.number().int().nonnegative();

const reviewed = z.strictObject({
  type: z.literal('reviewed'),
  ...person,
  skill,
  step: z.string(),
  verdict: z.enum(['yes', 'no', 'unsure']),
  /** Empty where none was given. */
  reason: z.string().max(2000),
  /** The moment of the recording at which the person heard it; null where no moment was named. */
  heardAt: seconds.nonnegative().nullable(),
  /** Whether the machine's mark was hidden from the person until then. */
  blind: z.boolean(),
});

/** The true value of what a reading measured, as the person took it. */
const measured = z.strictObject({
  type: z.literal('measured'),
  ...person,
  skill,
  step: z.string(),
  value: z.number(),
  /** Given by who rehearsed, or somebody beside them, and not by a reviewer. */
  byRehearser: z.literal(true).exactOptional(),
});
const commented = z.strictObject({
  type: z.literal('commented'),
  ...person,
  at: seconds.nonnegative(),
  text: z.string().trim().min(1).max(2000),
});
const signedOff = z.strictObject({ type: z.literal('signed off'), ...person, skill });

export const ReviewEventSchema = z.discriminatedUnion('type', [reviewed, measured, commented, signedOff]);
export type ReviewEvent = Readonly<z.infer<typeof ReviewEventSchema>>;

/** One event, as a line of the journal holds it. */
export const RehearsalEventSchema = z.discriminatedUnion('type', [
  began, carried, heard, aside, credited, doubted, noted, clock, joint, movement, repetition, reading, readBack, confirmed, takenBack, tentative, withdrawn,
  commanded, paused, resumed, spoke, repaired, drawn, movedOn, late, timeUp, loudness, met, handled, ended,
  reviewed, measured, commented, signedOff,
]); // prettier-ignore
export type RehearsalEvent = Readonly<z.infer<typeof RehearsalEventSchema>>;
/** How loud a stretch was. */
export type Loudness = RehearsalEvent & { readonly type: 'loudness' };
/** What happens with a simulated resident. */
export type BenchEvent = RehearsalEvent & { readonly type: 'met' | 'handled' };
/** The event with which a mock test begins. */
export type Drawn = RehearsalEvent & { readonly type: 'drawn' };
