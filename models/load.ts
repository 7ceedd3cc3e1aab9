import { createHash } from 'node:crypto';
import { readdir, readFile, stat } from 'node:fs/promises';
import path from 'node:path';
import { ARCHIVE, checkVoskModel, unpackVoskModel, type VoskFiles } from '../app/streaming/voskModel.ts';
import { messageOf } from '../app/faults/faults.ts';
import type { Engine } from '../app/settings/choice.ts';
import { catalog, findModel, isShipped, type Model } from './catalog.ts';
import { modelFolder, modelsHome, withRecorded } from './verify.ts';

/** There is no such model on this machine; the message says what to run. */
export class ModelMissing extends Error {
  override readonly name = 'ModelMissing';
}

/** The model's files are there and are not what they should be; the message says which and what to run. */
export class ModelCorrupt extends Error {
  override readonly name = 'ModelCorrupt';
}

/** A model in memory, as the listening engine of its name takes it. */
export interface LoadedModel extends Known {
  readonly engine: Engine;
  /** By their names; an archive's by their paths in it. */
  readonly files: ReadonlyMap<string, Uint8Array<ArrayBuffer>>;
}

interface Known {
  /** The catalogue's id, or the folder's or file's name for a model the catalogue does not know. */
  readonly id: string;
  /** What the user should know, as "decoder_model_merged.ort is not one this version knows". */
  readonly warnings: readonly string[];
}

/**
 * Reads a model for an engine and checks it. An id of the catalogue is looked for among the placed models and must match
 * its checksums; anything else is taken for what the user got by hand: a folder, or an archive of a Vosk model, whose files
 * must have the right shape, and which may be unknown to the catalogue (then a warning says so).
 *
 * @param which an id, a folder or an archive; by default what SINKSIDE_MODEL_DIR names, else the engine's model that is
 *   here, the catalogue's default before others
 * @throws {ModelMissing} nothing is there
 * @throws {ModelCorrupt} what is there is damaged, or is no model for this engine
 */
export async function loadModel(
  engine: Engine,
  which: string | undefined = process.env['SINKSIDE_MODEL_DIR'] || undefined,
): Promise<LoadedModel> {
  const model = which === undefined ? await usualModel(engine) : findModel(which);
  if (model && model.engine !== engine) {
    throw new ModelMissing(
      `${model.id} is a model for the ${model.engine} engine; the ${engine} engine cannot run it. ` +
        `Name that engine, with --engine ${model.engine}, or another model.`,
    );
  }
  if (model) return loadPlaced(model);
  const where = which!; // without it there is a usual model
  const usual = modelsFor(engine)[0]!; // likewise
  return usual.files.some((file) => ARCHIVE.test(file.path))
    ? loadUnpacked(engine, where)
    : loadFolder(usual, where);
}

/** The first of an engine's models that is here; the first of all where none is. */
async function usualModel(engine: Engine): Promise<Model> {
  const models = modelsFor(engine);
  for (const model of models) if (await isFolder(modelFolder(model, modelsHome()))) return model;
  return models[0]!; // each engine has one: a test of the catalogue holds it
}

const modelsFor = (engine: Engine): Model[] => catalog().filter((model) => model.engine === engine);

async function loadPlaced(known: Model): Promise<LoadedModel> {
  const model = await withRecorded(known, modelsHome());
  const folder = modelFolder(model, modelsHome());
  const advice = isShipped(model) ? 'Install the program again.' : `Run: npx sinkside models get ${model.id}`;
  if (!(await isFolder(folder)))
    throw new ModelMissing(`The speech model ${model.id} is not here yet. ${advice}`);
  const files = await readFiles(
    folder,
    model.files.map((file) => file.path),
    advice,
  );
  for (const file of model.files) {
    const data = files.get(file.path)!; // all were read
    if (file.sha256 !== null && digest(data) !== file.sha256) {
      throw new ModelCorrupt(
        `The speech model ${model.id} is damaged: ${path.join(folder, file.path)} has a wrong checksum. ${advice}`,
      );
    }
  }
  const archive = [...files].find(([name]) => ARCHIVE.test(name));
  const unpacked = archive ? unpack(archive[1], path.join(folder, archive[0]), advice) : files;
  return { engine: model.engine, id: model.id, files: unpacked, warnings: [] };
}

/** A model that the user got by hand: a folder with the files that the engine's usual model has. */
async function loadFolder(usual: Model, folder: string): Promise<LoadedModel> {
  if (!(await isFolder(folder))) throw noModel(folder, 'neither a folder');
  const names = usual.files.map((file) => file.path);
  const files = await readFiles(folder, names, `The folder must hold ${names.join(', ')}.`);
  for (const [name, data] of files) {
    if (!hasShape(name, data)) {
      throw new ModelCorrupt(
        `${path.join(folder, name)} is not what its name says: ` +
          (name === TOKENS ? 'its table of tokens breaks off or is empty.' : 'it is no ORT model.'),
      );
    }
  }
  return { engine: usual.engine, files, ...identify(folder, files) };
}

/** A model of Vosk's format that the user got by hand: its archive, a folder that holds it alone, or one with its files. */
async function loadUnpacked(engine: Engine, where: string): Promise<LoadedModel> {
  const found = await stat(where).catch(() => null);
  if (!found) throw noModel(where, 'neither a folder, an archive');
  const advice = 'It must be a model of Vosk’s format: its folder, or its .zip or .tar.gz.';
  const names = found.isDirectory() ? await readdir(where, { recursive: true }) : [''];
  const archives = names.filter((name) => ARCHIVE.test(name || where));
  if (!found.isDirectory() || (archives.length === 1 && !names.some((name) => name.endsWith('.mdl')))) {
    const archive = path.join(where, archives[0] ?? '');
    const data = await readFile(archive);
    const files = unpack(data, archive, advice);
    return { engine, files, ...identify(where, new Map([[path.basename(archive), data]])) };
  }
  const members = new Map<string, Uint8Array<ArrayBuffer>>();
  for (const name of names) {
    const file = path.join(where, name);
    if ((await stat(file)).isFile()) members.set(name.replaceAll(path.sep, '/'), await readFile(file));
  }
  try {
    return { engine, files: checkVoskModel(members), ...identify(where, members) };
  } catch (error) {
    throw new ModelCorrupt(`The speech model in ${where} cannot be used: ${messageOf(error)}. ${advice}`);
  }
}

function unpack(archive: Uint8Array, where: string, advice: string): VoskFiles {
  try {
    return unpackVoskModel(archive);
  } catch (error) {
    throw new ModelCorrupt(`The speech model ${where} cannot be used: ${messageOf(error)}. ${advice}`);
  }
}

function noModel(where: string, what: string): ModelMissing {
  const ids = catalog().map((model) => model.id);
  return new ModelMissing(
    `There is no speech model "${where}": it is ${what} nor one of ${ids.join(', ')}. Run: npx sinkside models list`,
  );
}

/** The id of a model got by hand: the catalogue's where its files are ones the catalogue knows. */
function identify(where: string, files: ReadonlyMap<string, Uint8Array>): Known {
  const known = catalog().find((model) =>
    model.files.every((file) => {
      const data = files.get(file.path);
      return file.sha256 !== null && data?.length === file.bytes && digest(data) === file.sha256;
    }),
  );
  if (known) return { id: known.id, warnings: [] };
  return {
    id: path.basename(path.resolve(where)).replace(ARCHIVE, ''),
    warnings: [
      `The model in ${where} is not one this version knows: its files could not be checked beyond their shape.`,
    ],
  };
}

async function isFolder(where: string): Promise<boolean> {
  return (await stat(where).catch(() => null))?.isDirectory() ?? false;
}

async function readFiles(
  folder: string,
  names: readonly string[],
  advice: string,
): Promise<Map<string, Uint8Array<ArrayBuffer>>> {
  const files = new Map<string, Uint8Array<ArrayBuffer>>();
  for (const name of names) {
    const where = path.join(folder, name);
    const data = await readFile(where).catch((error: NodeJS.ErrnoException) => {
      throw new ModelCorrupt(
        error.code === 'ENOENT'
          ? `The speech model in ${folder} has no ${name}. ${advice}`
          : `${where} cannot be read (${error.code ?? error.message}). ${advice}`,
      );
    });
    files.set(name, data);
  }
  return files;
}

function digest(data: Uint8Array): string {
  return createHash('sha256').update(data).digest('hex');
}

const TOKENS = 'tokenizer.bin';

/**
 * Whether a file could be what its name says. An ORT model is a flatbuffer whose file identifier, bytes 4–7, is
 * "ORTM" (onnxruntime/core/flatbuffers/schema/ort.fbs). A token table is a run of entries, each a length of one byte
 * or, from 128 up, two, and that many bytes; it must end where the file ends.
 */
function hasShape(name: string, data: Uint8Array): boolean {
  if (name.endsWith('.ort')) return Buffer.from(data.subarray(4, 8)).toString('latin1') === 'ORTM';
  if (name !== TOKENS) return data.length > 0;
  let at = 0;
  while (at < data.length) {
    let length = data[at++]!; // within
    if (length >= 128) length = (data[at++] ?? 0) * 128 + length - 128;
    at += length;
  }
  return data.length > 0 && at === data.length;
}
