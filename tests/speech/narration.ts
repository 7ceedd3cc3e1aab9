import { readdir, readFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { parse } from 'yaml';
import { z } from 'zod';

/**
 * What a trainee says during one rehearsal, line by line, with what each line is worth. The labels come from whoever wrote
 * the line, never from a recogniser or a matcher, and the wording was written without looking at the skills' cues.
 */

const stepId = z.string().regex(/^[a-z][a-z-]*$/);

const LineSchema = z.strictObject({
  say: z.string().min(1),
  /** `other` is a second voice: a resident, a visitor, an instructor. What it says is worth nothing. */
  by: z.enum(['trainee', 'other']).default('trainee'),
  /** Seconds of silence after the line. */
  pause: z.number().nonnegative().default(1),
  /** Instead of `pause`: silence until the clock, by our own count, shows so many seconds when the next line begins. */
  fills: z.record(stepId, z.number().positive()).optional(),
  /** Steps said as being done, or as just done. */
  credits: z.array(stepId).default([]),
  /** Steps about which two fair listeners could disagree; neither a credit nor its absence is scored. */
  either: z.array(stepId).default([]),
  /** Clocks, named by their step. `starts` and `resumes` count from the line's end, `holds` and `stops` from its start. */
  starts: stepId.optional(),
  holds: stepId.optional(),
  resumes: stepId.optional(),
  stops: stepId.optional(),
  /** Repetitions this line adds, by step. */
  counts: z.record(stepId, z.number().int().positive()).default({}),
  /** The number said for the reading that this line credits. */
  reading: z.number().optional(),
  note: z.string().optional(),
});
export type Line = z.infer<typeof LineSchema>;

const NarrationSchema = z.strictObject({
  skill: z.string(),
  /** `dev` is for tuning; `held-out` is looked at only to report. */
  split: z.enum(['dev', 'held-out']),
  variants: z.record(z.string(), z.string()).default({}),
  /** What kind of trainee and which faults this is about. */
  tags: z.array(z.string()),
  /** Pairs [should come first, should come later] that are said the wrong way round. */
  swapped: z.array(z.tuple([stepId, stepId])).default([]),
  note: z.string().optional(),
  lines: z.array(LineSchema).min(1),
});
export type Narration = z.infer<typeof NarrationSchema> & { readonly id: string };

/** Talk that credits nothing in any skill. */
const NegativeSchema = z.strictObject({
  note: z.string(),
  lines: z.array(LineSchema.pick({ say: true, by: true, pause: true })).min(1),
});
export type Negative = z.infer<typeof NegativeSchema> & { readonly id: string };

const here = path.dirname(fileURLToPath(import.meta.url));

/**
 * All narrations of a folder, by default those of our skills, in the order of their names. Throws an Error that names the file
 * at fault.
 */
export function loadNarrations(folder: string = path.join(here, 'narrations')): Promise<Narration[]> {
  return loadFolder(folder, NarrationSchema);
}

/** All talk that credits nothing, in the order of the files' names. Throws an Error that names the file at fault. */
export function loadNegatives(): Promise<Negative[]> {
  return loadFolder(path.join(here, 'negatives'), NegativeSchema);
}

async function loadFolder<T>(folder: string, schema: z.ZodType<T>): Promise<(T & { id: string })[]> {
  const names = (await readdir(folder)).filter((name) => name.endsWith('.yaml')).sort();
  return Promise.all(
    names.map(async (name) => {
      const checked = schema.safeParse(parse(await readFile(path.join(folder, name), 'utf8')));
      if (!checked.success) throw new Error(`${path.join(folder, name)}: ${z.prettifyError(checked.error)}`);
      return { ...checked.data, id: path.basename(name, '.yaml') };
    }),
  );
}

/** A negative as a line-by-line script, so that it can be spoken like a narration. */
export function asScript(negative: Negative): Pick<Narration, 'id' | 'lines'> {
  return { id: negative.id, lines: negative.lines.map((line) => LineSchema.parse(line)) };
}
