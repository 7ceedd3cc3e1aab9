import type { Catalog, DifferenceSource, Model } from './catalog.ts';

/** Something wrong in a catalogue, and the field it is in. */
export interface CatalogFault {
  readonly path: (string | number)[];
  readonly message: string;
}

/** What is wrong with a catalogue whose fields are each sound by themselves. */
export function* faultsOf(catalog: Catalog): Generator<CatalogFault> {
  const usual = catalog.models.find(({ id }) => id === catalog.default);
  if (!usual) yield { path: ['default'], message: `there is no model "${catalog.default}"` };
  else if (!usual.forPeople) yield { path: ['default'], message: `"${usual.id}" is not for people's voices` };
  for (const [m, model] of catalog.models.entries()) {
    const at = ['models', m];
    if (catalog.models.findIndex(({ id }) => id === model.id) !== m)
      yield { path: [...at, 'id'], message: `"${model.id}" is there twice` };
    yield* repeated(model.files, [...at, 'files']);
    for (const [s, source] of model.sources.entries()) {
      if (source.kind !== 'difference') continue;
      const base = catalog.models.find(({ id }) => id === source.base);
      const field = [...at, 'sources', s];
      if (model.sources.length > 1) yield { path: field, message: 'must be the only source of its model' };
      if (!base) yield { path: [...field, 'base'], message: `there is no model "${source.base}"` };
      else {
        yield* faultyChanges(model, source, base, field);
        yield* faultyResults(model, source, base, [...at, 'files']);
      }
    }
  }
}

/** What is wrong with a difference as such; `at` is the field it is in. */
function* faultyChanges(
  model: Model,
  source: DifferenceSource,
  base: Model,
  at: CatalogFault['path'],
): Generator<CatalogFault> {
  // A chain of differences would need every link of it to be got and to stay.
  if (base.sources.some(({ kind }) => kind === 'difference'))
    yield { path: [...at, 'base'], message: `"${base.id}" is made from a difference itself` };
  yield* repeated(source.changes, [...at, 'changes']);
  for (const [c, { path, baseSha256 }] of source.changes.entries()) {
    if (!model.files.some((file) => file.path === path))
      yield { path: [...at, 'changes', c, 'path'], message: `the model has no file "${path}"` };
    else if (base.files.find((file) => file.path === path)?.sha256 !== baseSha256)
      yield {
        path: [...at, 'changes', c, 'baseSha256'],
        message: `is not the checksum that ${base.id} has here: the difference was made from another version of it`,
      };
  }
}

/** What is wrong with the files that are to come of a difference; `at` is their field. */
function* faultyResults(
  model: Model,
  source: DifferenceSource,
  base: Model,
  at: CatalogFault['path'],
): Generator<CatalogFault> {
  for (const [f, file] of model.files.entries()) {
    const from = base.files.find(({ path }) => path === file.path);
    if (from?.bytes !== file.bytes)
      yield { path: [...at, f, 'bytes'], message: `${base.id} has no "${file.path}" of that size` };
    else if (file.sha256 === null)
      yield { path: [...at, f, 'sha256'], message: 'must be known of a file that a difference makes' };
    else if (file.sha256 !== from.sha256 && !source.changes.some(({ path }) => path === file.path))
      yield { path: [...at, f, 'sha256'], message: `is not that of ${base.id}, and no change makes it so` };
  }
}

function* repeated(
  entries: readonly { readonly path: string }[],
  at: CatalogFault['path'],
): Generator<CatalogFault> {
  for (const [e, { path }] of entries.entries()) {
    if (entries.findIndex((other) => other.path === path) !== e)
      yield { path: [...at, e, 'path'], message: `"${path}" is there twice` };
  }
}
