import { createHash } from 'node:crypto';
import { z } from 'zod';
import { TraineeSchema } from '../people/trainee.ts';
import { RehearsalIdSchema } from '../records/header.ts';
import { LexiconSchema, IdSchema } from '../skills/skill.ts';
import { MOST_ATTEMPTS, MOST_JOURNAL, MOST_SKILL, MOST_SKILLS, MOST_SOUND } from './limits.ts';

/** What the name of a bundle ends with. */
export const BUNDLE_ENDING = '.sinkside.zip';
/** The first entry, which lists all others. */
export const MANIFEST_ENTRY = 'manifest.json';
/** Rises when an old program could misread a new bundle. */
export const BUNDLE_VERSION = 1;

const Sha256Schema = z.string().regex(/^[0-9a-f]{64}$/, 'is no SHA-256 in lower-case hex');

/** Names of an attempt's files, as they are in its folder. */
export const ATTEMPT_FILES = ['journal.jsonl', 'sound.flac', 'sound.wav'] as const;
export type AttemptFile = (typeof ATTEMPT_FILES)[number];

const CarriedFileSchema = z
  .strictObject({
    /** Its name in the attempt's folder; {@link entryOf} tells where it is in the bundle. */
    path: z.enum(ATTEMPT_FILES),
    bytes: z.number().int().nonnegative(),
    sha256: Sha256Schema,
  })
  .refine(
    ({ path, bytes }) => bytes <= (path === 'journal.jsonl' ? MOST_JOURNAL : MOST_SOUND),
    'is too large',
  );
export type CarriedFile = Readonly<z.infer<typeof CarriedFileSchema>>;

const CarriedAttemptSchema = z.strictObject({
  /** Id of the attempt where it comes from. */
  record: RehearsalIdSchema,
  /** As {@link attemptHash} has it. */
  sha256: Sha256Schema,
  /** Who rehearsed, with what they agreed to; null for nobody in particular. */
  trainee: TraineeSchema.nullable(),
  /** When it is to be deleted, in UTC as ISO 8601 has it; null where the school has set no time. */
  keepUntil: z.iso.datetime().nullable(),
  files: z
    .array(CarriedFileSchema)
    .min(1)
    .max(2)
    .refine((files) => files.filter(({ path }) => path === 'journal.jsonl').length === 1, 'needs one journal')
    .refine((files) => new Set(files.map(({ path }) => path)).size === files.length, 'has a file twice'),
});
export type CarriedAttempt = Readonly<z.infer<typeof CarriedAttemptSchema>>;

/** A skill of the school's own, as attempts were marked under it. */
const CarriedSkillSchema = z.strictObject({
  id: IdSchema,
  version: z.number().int().positive(),
  /** Its YAML. */
  source: z.string().max(MOST_SKILL),
  /** The wordings that its cues use. */
  slots: LexiconSchema.shape.slots,
});
export type CarriedSkill = Readonly<z.infer<typeof CarriedSkillSchema>>;

/** What a bundle says of itself. */
export const ManifestSchema = z.strictObject({
  format: z.literal('sinkside-bundle'),
  version: z.literal(BUNDLE_VERSION),
  madeAt: z.iso.datetime(),
  /** Name and version of the program that made it. */
  program: z.string().max(100),
  attempts: z
    .array(CarriedAttemptSchema)
    .max(MOST_ATTEMPTS)
    .refine((all) => new Set(all.map(({ record }) => record)).size === all.length, 'has an attempt twice'),
  skills: z.array(CarriedSkillSchema).max(MOST_SKILLS),
});
export type Manifest = Readonly<z.infer<typeof ManifestSchema>>;

/** Where a file of an attempt is in the bundle. */
export const entryOf = (record: string, path: AttemptFile): string => `attempts/${record}/${path}`;

/**
 * The hash of an attempt: SHA-256 over the lines "path sha256" of its files, sorted. It does not depend on the attempt's id, so that a
 * copy under another id is known again.
 */
export function attemptHash(files: readonly Pick<CarriedFile, 'path' | 'sha256'>[]): string {
  const lines = files.map(({ path, sha256 }) => `${path} ${sha256}\n`).sort();
  return createHash('sha256').update(lines.join('')).digest('hex');
}
