import { z } from 'zod';
import { SettingsSchema } from '../settings/settings.ts';

/** What a rehearsal is begun with. */
export const NewRehearsalSchema = z.object({
  /** Id of the skill. */
  skill: z.string().regex(/^[a-z][a-z0-9]*(-[a-z0-9]+)*$/, 'must be the id of a skill'),
  /** The version of the skill that it is marked under; rehearsals of old have none. */
  version: z.number().int().positive().exactOptional(),
  variants: z.record(z.string(), z.string()),
  style: SettingsSchema.shape.style.unwrap(),
  /** Id of the form, or "by hand", of a mock test; its events tell all its skills, `skill` is the first. */
  form: z.string().exactOptional(),
  /** Ids of the steps rehearsed; left out for the whole skill. */
  only: z.array(z.string()).exactOptional(),
  /** What listens: engine and model, as `moonshine/moonshine-tiny-en`. */
  engine: z.string(),
  /** When it began, in UTC as ISO 8601 has it: `2026-01-31T09:30:00.000Z`. */
  startedAt: z.iso.datetime(),
  /** Id of who rehearses; null, or left out, for nobody in particular. */
  trainee: z.string().nullable().exactOptional(),
});
export type NewRehearsal = z.infer<typeof NewRehearsalSchema>;

/** The first line of a journal. `schema` rises when an old program could misread a new journal. */
export const HeaderSchema = NewRehearsalSchema.extend({
  schema: z.literal(1),
  /** Its trainee had not agreed that sound is kept: none is taken. */
  withoutSound: z.literal(true).exactOptional(),
});
export type Header = z.infer<typeof HeaderSchema>;

/**
 * The name of a rehearsal's folder: when it began, in UTC to the second, and its skill, as
 * `20260131T093000Z-hand-washing`; a number is added where that is taken. Holds nothing a path could be made of.
 */
export const RehearsalIdSchema = z
  .string()
  .regex(/^\d{8}T\d{6}Z-[a-z0-9-]+$/, 'is not the id of a rehearsal')
  .max(200);
