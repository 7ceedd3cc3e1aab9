import { z } from 'zod';
import { MANNERS } from '../language/stance.ts';

/**
 * The marked result of one rehearsal as one document: what `sinkside assess --json` prints and what reports are made
 * from. Times are seconds from the start of the recording. Heard is not seen: "heard" says that the words were heard,
 * never that the thing was done or done well.
 */

const seconds = z.number().nonnegative();

export const OutcomeSchema = z.enum(['heard', 'not heard', 'out of order', 'unsure', 'needs eyes']);
export type Outcome = z.infer<typeof OutcomeSchema>;

/** The stretch of speech a mark rests on. */
export const EvidenceSchema = z.strictObject({
  /** Id of the utterance. */
  utterance: z.number().int().nonnegative(),
  /** The words of the utterance that were matched, as recognised. */
  text: z.string(),
  start: seconds,
  end: seconds,
  /** 0–1: how well the words fit the step. */
  score: z.number().min(0).max(1),
});
export type Evidence = z.infer<typeof EvidenceSchema>;

const StepMarkSchema = z.strictObject({
  id: z.string(),
  text: z.string(),
  critical: z.boolean(),
  outcome: OutcomeSchema,
  /** When the step was credited (or last seemed to be said, if unsure); null when it was not. */
  at: seconds.nullable(),
  evidence: EvidenceSchema.nullable(),
  /**
   * How a step that was heard was said: as done, as it began, or as what one would do (told, not done); `carried over` where
   * it need not be said again. Null where it was not heard.
   */
  manner: z.enum([...MANNERS, 'carried over']).nullable(),
  /** Why the outcome is what it is, in a sentence for the trainee; empty when there is nothing to say. */
  note: z.string(),
});
export type StepMark = z.infer<typeof StepMarkSchema>;

/** Why something heard was not marked: it is the coach's own voice, talk in a pause, a command, or said to an instrument (`bench`). */
export const AsideReasonSchema = z.enum(['echo', 'paused', 'command', 'bench']);
export type AsideReason = z.infer<typeof AsideReasonSchema>;

/** How a voice stood over the noise beside it, such as a tap's. Levels are dB relative to full scale, distances dB. */
export const VoiceOverNoiseSchema = z.strictObject({
  /** The middle one of the levels of the sayings, and of the noise between them. */
  speech: z.number(),
  noise: z.number(),
  /** How far that voice stood over that noise. */
  distance: z.number(),
  /** The same beside the loudest noise, of those that lasted two seconds in all. */
  least: z.number(),
  /** The distance from which on a tap is no trouble to what listened; null where that was not measured. */
  comfortable: z.number().nullable(),
  /** Seconds of noise beside which the voice stood less than that, and of how many that were measured. */
  loudSeconds: seconds,
  ofSeconds: seconds,
  /** Ids of the steps not heard or unsure that this may explain: the noise was too loud when they were due or said. */
  explains: z.array(z.string()),
});
export type VoiceOverNoise = z.infer<typeof VoiceOverNoiseSchema>;

export const AssessmentSchema = z.strictObject({
  schema: z.literal(1),
  skill: z.strictObject({ id: z.string(), title: z.string(), variants: z.record(z.string(), z.string()) }),
  engine: z.string(),
  audioSeconds: seconds,
  processingSeconds: seconds,
  /** Remarks on the recording itself: it ends early, no speech was found… */
  warnings: z.array(z.string()),
  utterances: z.array(
    z.strictObject({
      id: z.number().int().nonnegative(),
      text: z.string(),
      start: seconds,
      end: seconds,
      confidence: z.number().min(0).max(1),
      words: z
        .array(z.strictObject({ text: z.string(), start: seconds, end: seconds, uncertainty: seconds }))
        .optional(),
      aside: AsideReasonSchema.optional(),
    }),
  ),
  steps: z.array(StepMarkSchema),
  /** `id` is the step's; `seconds` is the conservative time (never longer than the true one is believed to be). */
  clocks: z.array(
    z.strictObject({
      id: z.string(),
      seconds,
      uncertainty: seconds,
      required: seconds,
      met: z.boolean(),
    }),
  ),
  counts: z.array(
    z.strictObject({
      id: z.string(),
      counted: z.number().int().nonnegative(),
      required: z.number().int().positive(),
      met: z.boolean(),
    }),
  ),
  /** `sure: false` means the coach would ask again: the sound also fits one of `rivals`. */
  readings: z.array(
    z.strictObject({
      id: z.string(),
      value: z.number(),
      unit: z.string(),
      at: seconds,
      sure: z.boolean(),
      rivals: z.array(z.number()),
      /** What the simulated resident had; absent where there was none, or nothing was measured. */
      truth: z.number().exactOptional(),
    }),
  ),
  result: z.strictObject({
    passed: z.boolean(),
    heard: z.number().int().nonnegative(),
    of: z.number().int().nonnegative(),
    criticalMissed: z.array(z.string()),
  }),
  /** Null for a transcript, and where too little was said to measure it. */
  voiceOverNoise: VoiceOverNoiseSchema.nullable(),
  caution: z.string(),
});
export type Assessment = z.infer<typeof AssessmentSchema>;
