import { z } from 'zod';
import type { Skill } from './skill.ts';

const id = z.string().min(1);

/** `skills/forms/*.yaml`: how the skills of a mock test are drawn. What a school's own test looks like is data, never code. */
export const FormSchema = z.strictObject({
  schema: z.literal(1),
  id,
  title: z.string().trim().min(1),
  /** The skill that always comes first; it is one of those counted in `skills`. */
  first: id.optional(),
  /** How many skills. */
  skills: z.number().int().min(1),
  /** How many of them have a number to record. Without it that is left to the draw. */
  readings: z.number().int().nonnegative().optional(),
  /** Skills drawn from; without it all. */
  pool: z.array(id).min(1).optional(),
  /** How many times as likely as another a skill is drawn. 1 where it is not named. */
  weights: z.record(id, z.number().positive()).default({}),
  /** Skills that are never drawn. */
  exclude: z.array(id).default([]),
  /** Lists of skills of which at most one is drawn. */
  apart: z.array(z.array(id).min(2)).default([]),
  /** Id of the rules it is marked by. */
  rules: id,
});
export type Form = z.infer<typeof FormSchema>;

/** Whether a skill has a number to record. */
export const hasReading = ({ steps }: Skill): boolean =>
  steps.some(({ evidence }) => evidence.kind === 'reading');
