import { createHash } from 'node:crypto';
import { readFile, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { inflate } from 'node:zlib';
import type { DifferenceSource, Model } from './catalog.ts';
import { SourceFailed } from './download.ts';
import { checkFile } from './verify.ts';

/**
 * Makes a model's files in `folders.staging` from those of its base and the difference that comes with the program.
 *
 * The difference is one zlib stream (RFC 1950). It holds (result - base) mod 256 of every byte of every changed file, the
 * files back to back in the order of `source.changes`; a file and its base are of one length. Small changes of quantised
 * weights are small numbers, so that plain Huffman coding is within some 3 % of the best that was tried, and any language
 * can write it. Files without a change are the base's.
 *
 * `onBytes` hears how many bytes of the model are made.
 *
 * @param folders `base` holds the base's files, `own` the difference
 * @throws {SourceFailed} the difference is missing or damaged, or the base is not the one that it was made from
 * @throws an error of code ENOSPC when the disk is full, as node:fs does
 */
export async function makeFromDifference(
  model: Model,
  source: DifferenceSource,
  folders: { readonly base: string; readonly own: string; readonly staging: string },
  onBytes: (bytes: number) => void,
): Promise<void> {
  const differences = await readDifferences(model, source, folders.own);
  let made = 0;
  for (const file of model.files) {
    const from = path.join(folders.base, file.path);
    const base = await readFile(from).catch((error: NodeJS.ErrnoException) => {
      throw new SourceFailed(
        `${from} cannot be read (${error.code ?? error.message}). ${getAgain(model, source)}`,
      );
    });
    const change = source.changes.find((each) => each.path === file.path);
    if (digest(base) !== (change?.baseSha256 ?? file.sha256)) {
      throw new SourceFailed(
        `${from} is not the published file that ${model.id} was made from: it has another checksum. ` +
          getAgain(model, source),
      );
    }
    const difference = differences.get(file.path);
    await writeFile(path.join(folders.staging, file.path), difference ? add(base, difference) : base);
    const { fault } = await checkFile(folders.staging, file);
    if (fault) {
      throw new SourceFailed(
        `${source.file} turns ${file.path} of ${source.base} into a file with a ${fault}, so it is not used. ` +
          INSTALL_AGAIN,
      );
    }
    made += file.bytes;
    onBytes(made);
  }
}

/** The differences of the changed files, by their names. */
async function readDifferences(
  model: Model,
  source: DifferenceSource,
  folder: string,
): Promise<Map<string, Uint8Array>> {
  const where = path.join(folder, source.file);
  const { fault } = await checkFile(folder, { ...source, path: source.file });
  if (fault === 'missing') throw new SourceFailed(`${where} is missing. ${INSTALL_AGAIN}`);
  if (fault) throw new SourceFailed(`${where} has a ${fault}, so it is not used. ${INSTALL_AGAIN}`);
  const sizes = source.changes.map(({ path: name }) => model.files.find((file) => file.path === name)!.bytes);
  const total = sizes.reduce((sum, bytes) => sum + bytes, 0);
  const whole = await promisify(inflate)(await readFile(where), { maxOutputLength: total }).catch(() => null);
  if (whole?.length !== total) {
    throw new SourceFailed(
      `${where} is no difference of ${total} bytes, so it is not used. ${INSTALL_AGAIN}`,
    );
  }
  const differences = new Map<string, Uint8Array>();
  let at = 0;
  for (const [c, { path: name }] of source.changes.entries()) {
    differences.set(name, whole.subarray(at, at + sizes[c]!));
    at += sizes[c]!;
  }
  return differences;
}

/** Byte-wise sums mod 256. */
function add(base: Uint8Array, difference: Uint8Array): Uint8Array {
  return base.map((byte, at) => byte + difference[at]!);
}

const INSTALL_AGAIN = 'Install the program again.';

const getAgain = (model: Model, source: DifferenceSource): string =>
  `Run: npx sinkside models get ${source.base}, then again: npx sinkside models get ${model.id}`;

const digest = (data: Uint8Array): string => createHash('sha256').update(data).digest('hex');
