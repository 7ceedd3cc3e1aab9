/**
 * What the host and the editor say to each other about skill files; a part of api.ts.
 *
 *     GET  /api/skills                              ListedSkill[]
 *     GET  /api/skills/:id/source                   SkillSource
 *     PUT  /api/skills/:id           SaveSkill   →  SavedSkill
 *     GET  /api/skills/:id/versions                 Skill[], earlier ones, the newest first
 *     GET  /api/skills/:id/versions/:n              SkillSource
 *     POST /api/skills/check         CheckSkill  →  CheckedSkill
 *     POST /api/skills/export        ExportSkills → SkillPack
 *     POST /api/skills/import        ImportPack  →  ImportedPack
 *
 * A file with faults is refused with a Problem that lists them.
 */
import { z } from 'zod';
import { FaultSchema } from '../../faults/faults.ts';
import { IdSchema, SkillSchema } from '../../skills/skill.ts';
import { TriedSchema } from '../../authoring/tryPhrase.ts';

/** Largest pack taken, in bytes: some hundreds of skills. */
export const MOST_PACK_BYTES = 8 << 20;

export const ListedSkillSchema = z.object({
  id: z.string(),
  title: z.string(),
  /** Null where its file cannot be read. */
  version: z.number().int().positive().nullable(),
  /** Whether the school wrote it, or rewrote it. */
  own: z.boolean(),
});
export type ListedSkill = z.infer<typeof ListedSkillSchema>;
export const ListedSkillsSchema = z.array(ListedSkillSchema);

export const SkillSourceSchema = z.object({ id: z.string(), source: z.string() });

export const SaveSkillSchema = z.object({
  source: z.string(),
  /** Whether it must not be there yet. */
  fresh: z.boolean().default(false),
});
export const SavedSkillSchema = z.object({ id: z.string(), version: z.number().int().positive() });

export const SkillVersionsSchema = z.array(SkillSchema);

export const CheckSkillSchema = z.object({
  source: z.string(),
  /** A sentence to be tried; empty for none. */
  phrase: z.string().default(''),
  variants: z.record(z.string(), z.string()).default({}),
});

export const CheckedSkillSchema = z.object({
  /** What makes it unusable, with its place. */
  faults: z.array(FaultSchema),
  /** What had better be looked at; empty while there are faults. */
  warnings: z.array(FaultSchema),
  /** What the sentence would do; null where there is none, or the skill cannot be used. */
  tried: TriedSchema.nullable(),
});
export type CheckedSkill = z.infer<typeof CheckedSkillSchema>;

export const ExportSkillsSchema = z.object({ ids: z.array(IdSchema).min(1, 'choose a skill') });

export const ImportPackSchema = z.object({
  /** The pack's text, as it is in its file: faults name its lines. */
  pack: z.string(),
  /** Whether what is newer here may be replaced; it is kept as an earlier version. */
  replace: z.boolean().default(false),
});
/** What was taken in: ids of skills, names of narrations. */
export const ImportedPackSchema = z.object({ skills: z.array(z.string()), narrations: z.array(z.string()) });
export type ImportedPack = z.infer<typeof ImportedPackSchema>;
