import { z } from 'zod';
import { IdSchema, LexiconSchema } from '../skills/skill.ts';
import { readYaml } from './skillFile.ts';

/** Skills as they travel from one school's machine to another's: one JSON file. */

/** A narration's file name: it becomes one again. */
export const NarrationNameSchema = z
  .string()
  .regex(/^[a-z0-9]+(-[a-z0-9]+)*\.yaml$/, 'a narration is named in lower-case words, as "bed-1-all.yaml"');

export const SkillPackSchema = z.strictObject({
  kind: z.literal('sinkside-skills', 'this is no pack of skills'),
  schema: z.literal(1, 'this program reads packs of schema 1'),
  /** Each skill file as it was written. */
  skills: z.array(z.strictObject({ id: IdSchema, source: z.string() })).min(1, 'a pack needs skills'),
  /** Wordings that the skills use and that the program's own lexicon may lack. */
  lexicon: LexiconSchema.shape.slots.default({}),
  /** Narrations of the skills, with the marks they must get. */
  narrations: z.array(z.strictObject({ name: NarrationNameSchema, source: z.string() })).default([]),
});
export type SkillPack = z.infer<typeof SkillPackSchema>;

/** Reads a pack's text, the skills in it unread. Throws {@link FaultyFile}, which says where in the text. */
export function parsePack(file: string, text: string): SkillPack {
  // JSON is YAML, and YAML knows its lines.
  return readYaml(file, text, SkillPackSchema).value;
}
