import { z } from 'zod';
import { CheckedMicrophoneSchema } from '../loudness/checkedMicrophones.ts';
import { LISTENING, TrialSchema } from './choice.ts';
import { ResidentSettingsSchema } from './resident.ts';

/**
 * What the trainee has set once and finds again. Every field has a default, so that a file written by an older version
 * reads; without its fields it is the program as it comes.
 */
export const SettingsSchema = z.object({
  /** Id of the skill chosen last; null before the first choice. */
  skill: z.string().nullable().default(null),
  /** Variants chosen for that skill. */
  variants: z.record(z.string(), z.string()).default({}),
  /** Whether rehearsals begin as a later skill of a test does: hands just washed, the resident known. */
  continued: z.boolean().default(false),
  /** `coach` shows and says what is still open; `silent` says nothing, as in a test. */
  style: z.enum(['coach', 'silent']).default('coach'),
  /** The simulated resident of skills with something to measure. */
  resident: ResidentSettingsSchema.prefault({}),
  /** What listens; null for whatever did best on this machine. */
  engine: z.enum(LISTENING).nullable().default(null),
  /** Id of the model that its engine listens with, where it is here; null for the usual one. */
  model: z.string().nullable().default(null),
  /** How each choice did here, the latest of each. */
  trials: z.array(TrialSchema).default([]),
  /** Device id of the microphone; null for the browser's own choice. */
  microphone: z.string().nullable().default(null),
  /** What the last sound check of each microphone measured, the newest first. */
  checkedMicrophones: z.array(CheckedMicrophoneSchema).default([]),
  /** The browser's clean-up of the sound: made for calls, so it is off unless wanted. */
  processing: z
    .object({
      echoCancellation: z.boolean().default(false),
      noiseSuppression: z.boolean().default(false),
      autoGainControl: z.boolean().default(false),
    })
    .prefault({}),
  theme: z.enum(['system', 'dark', 'light']).default('system'),
  /** Loudness of the coach and its signals, 0–1. */
  volume: z.number().min(0).max(1).default(0.8),
  /** Whether the coach speaks aloud; it is captioned either way. */
  voice: z.boolean().default(true),
});
export type Settings = z.infer<typeof SettingsSchema>;

/** The settings before anything was set. */
export const DEFAULT_SETTINGS: Settings = SettingsSchema.parse({});
