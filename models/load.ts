import { createHash } from 'node:crypto';
import { readFile, stat } from 'node:fs/promises';
import path from 'node:path';
import { DEFAULT_MODEL, catalog, findModel, type Model } from './catalog.ts';
import { modelsHome } from './verify.ts';

/** There is no such model on this machine; the message says what to run. */
export class ModelMissing extends Error {
  override readonly name = 'ModelMissing';
}

/** The model's files are there and are not what they should be; the message says which and what to run. */
export class ModelCorrupt extends Error {
  override readonly name = 'ModelCorrupt';
}

/** An encoder-decoder model in memory, as the listening engine takes it. */
export interface LoadedModel {
  /** The catalogue's id, or the folder's name for a model the catalogue does not know. */
  readonly id: string;
  readonly encoder: Uint8Array<ArrayBuffer>;
  readonly decoder: Uint8Array<ArrayBuffer>;
  readonly tokenizer: Uint8Array<ArrayBuffer>;
  /** What the user should know, as "decoder_model_merged.ort is not one this version knows". */
  readonly warnings: readonly string[];
}

const FILES = {
  encoder: 'encoder_model.ort',
  decoder: 'decoder_model_merged.ort',
  tokenizer: 'tokenizer.bin',
} as const;

/**
 * Reads a model and checks it. An id of the catalogue is looked for among the placed models and must match its
 * checksums; anything else is taken for a folder the user filled by hand, whose files must have the right shape, and
 * which may be unknown to the catalogue (then a warning says so).
 *
 * @param idOrDir an id or a folder; by default the folder in SINKSIDE_MODEL_DIR, else the default model
 * @throws {ModelMissing} nothing is there
 * @throws {ModelCorrupt} what is there is damaged, or is no model for this engine
 */
export async function loadModel(
  idOrDir: string = process.env['SINKSIDE_MODEL_DIR'] || DEFAULT_MODEL,
): Promise<LoadedModel> {
  const model = findModel(idOrDir);
  return model ? loadPlaced(model) : loadFolder(idOrDir);
}

async function loadPlaced(model: Model): Promise<LoadedModel> {
  if (model.engine !== 'moonshine') {
    throw new ModelMissing(
      `${model.id} is a model for the ${model.engine} engine; this engine cannot run it.`,
    );
  }
  const folder = path.join(modelsHome(), model.id);
  if (!(await isFolder(folder))) {
    throw new ModelMissing(
      `The speech model ${model.id} is not here yet. Run: npx sinkside models get ${model.id}`,
    );
  }
  const files = await readFiles(folder, `Run: npx sinkside models get ${model.id}`);
  for (const file of model.files) {
    const data = files.get(file.path);
    if (data && digest(data) !== file.sha256) {
      throw new ModelCorrupt(
        `The speech model ${model.id} is damaged: ${path.join(folder, file.path)} has a wrong checksum. ` +
          `Run: npx sinkside models get ${model.id}`,
      );
    }
  }
  return { id: model.id, ...pick(files), warnings: [] };
}

async function loadFolder(folder: string): Promise<LoadedModel> {
  if (!(await isFolder(folder))) {
    const ids = catalog().map((model) => model.id);
    throw new ModelMissing(
      `There is no speech model "${folder}": it is neither a folder nor one of ${ids.join(', ')}. ` +
        `Run: npx sinkside models list`,
    );
  }
  const files = await readFiles(folder, `The folder must hold ${Object.values(FILES).join(', ')}.`);
  for (const [name, data] of files) {
    if (!hasShape(name, data)) {
      throw new ModelCorrupt(
        `${path.join(folder, name)} is not what its name says: ` +
          (name === FILES.tokenizer ? 'its table of tokens breaks off or is empty.' : 'it is no ORT model.'),
      );
    }
  }
  const known = catalog().find((model) =>
    model.files.every((file) => {
      const data = files.get(file.path);
      return data?.length === file.bytes && digest(data) === file.sha256;
    }),
  );
  const warnings = known
    ? []
    : [
        `The model in ${folder} is not one this version knows: its files could not be checked beyond their shape.`,
      ];
  return { id: known?.id ?? path.basename(path.resolve(folder)), ...pick(files), warnings };
}

async function isFolder(where: string): Promise<boolean> {
  return (await stat(where).catch(() => null))?.isDirectory() ?? false;
}

async function readFiles(folder: string, advice: string): Promise<Map<string, Uint8Array<ArrayBuffer>>> {
  const files = new Map<string, Uint8Array<ArrayBuffer>>();
  for (const name of Object.values(FILES)) {
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

function pick(
  files: Map<string, Uint8Array<ArrayBuffer>>,
): Pick<LoadedModel, 'encoder' | 'decoder' | 'tokenizer'> {
  return {
    encoder: files.get(FILES.encoder)!,
    decoder: files.get(FILES.decoder)!,
    tokenizer: files.get(FILES.tokenizer)!,
  };
}

function digest(data: Uint8Array): string {
  return createHash('sha256').update(data).digest('hex');
}

/**
 * Whether a file could be what its name says. An ORT model is a flatbuffer whose file identifier, bytes 4–7, is
 * "ORTM" (onnxruntime/core/flatbuffers/schema/ort.fbs). A token table is a run of entries, each a length of one byte
 * or, from 128 up, two, and that many bytes; it must end where the file ends.
 */
function hasShape(name: string, data: Uint8Array): boolean {
  if (name !== FILES.tokenizer) return Buffer.from(data.subarray(4, 8)).toString('latin1') === 'ORTM';
  let at = 0;
  while (at < data.length) {
    let length = data[at++]!;
    if (length >= 128) length = (data[at++] ?? 0) * 128 + length - 128;
    at += length;
  }
  return data.length > 0 && at === data.length;
}
