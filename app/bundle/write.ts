import { createHash } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';
import path from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { ZipFile } from 'yazl';
import program from '../../package.json' with { type: 'json' };
import { flushFolder } from '../disk/wholeFile.ts';
import type { Trainee } from '../people/trainee.ts';
import {
  attemptHash,
  BUNDLE_VERSION,
  entryOf,
  MANIFEST_ENTRY,
  ManifestSchema,
  type AttemptFile,
  type CarriedFile,
  type CarriedSkill,
  type Manifest,
} from './manifest.ts';

/** Bytes at hand, or the first so many of a file: a journal may grow meanwhile. */
export type Content = Uint8Array | { readonly file: string; readonly bytes: number };

/** An attempt that is to go into a bundle. */
export interface AttemptToCarry {
  readonly record: string;
  readonly trainee: Trainee | null;
  /** When it is to be deleted, in UTC as ISO 8601 has it; null for no time. */
  readonly keepUntil: string | null;
  readonly files: readonly { readonly path: AttemptFile; readonly content: Content }[];
}

/** A file changed while it was put into a bundle, which was not made. */
export class ChangedMeanwhile extends Error {
  override readonly name = 'ChangedMeanwhile';
  constructor(file: string) {
    super(`${file} changed while it was put into the bundle. Make the bundle again.`);
  }
}

interface Entry {
  readonly name: string;
  readonly content: Content;
  readonly sha256: string;
}

/**
 * Writes attempts, and the school's own skills they were marked under, into one file, which appears whole or not at all, and gives its
 * manifest. Every file is read twice: the manifest, which comes first, tells their hashes. Rejects as node:fs does.
 *
 * @param madeAt ms since 1970
 * @throws {ChangedMeanwhile}
 */
export async function writeBundle(
  file: string,
  attempts: AsyncIterable<AttemptToCarry> | Iterable<AttemptToCarry>,
  skills: readonly CarriedSkill[],
  madeAt = Date.now(),
): Promise<Manifest> {
  const entries: Entry[] = [];
  const carried: Manifest['attempts'] = [];
  for await (const { record, trainee, keepUntil, files } of attempts) {
    const listed: CarriedFile[] = [];
    for (const { path: name, content } of files) {
      const sha256 = await hashOf(content);
      entries.push({ name: entryOf(record, name), content, sha256 });
      listed.push({ path: name, bytes: sizeOf(content), sha256 });
    }
    carried.push({ record, sha256: attemptHash(listed), trainee, keepUntil, files: listed });
  }
  const manifest = ManifestSchema.parse({
    format: 'sinkside-bundle',
    version: BUNDLE_VERSION,
    madeAt: new Date(madeAt).toISOString(),
    program: `${program.name} ${program.version}`,
    attempts: carried,
    skills: [...skills],
  });
  await writeZip(file, manifest, entries);
  return manifest;
}

async function writeZip(file: string, manifest: Manifest, entries: readonly Entry[]): Promise<void> {
  const part = `${file}.part`;
  const mtime = new Date(manifest.madeAt);
  const zip = new ZipFile();
  const failing = new AbortController();
  const fail = (error: Error): void => failing.abort(error);
  zip.on('error', fail);
  zip.addBuffer(Buffer.from(JSON.stringify(manifest)), MANIFEST_ENTRY, { mtime });
  for (const { name, content, sha256 } of entries) {
    // What is packed already gains nothing.
    const compress = !name.endsWith('.flac');
    // Opened when its turn comes: a class has thousands of files.
    zip.addReadStreamLazy(name, { mtime, compress, size: sizeOf(content) }, (give) =>
      give(null, Readable.from(checked(content, sha256), { objectMode: false }).once('error', fail)),
    );
  }
  zip.end();
  try {
    const { signal } = failing;
    await pipeline(zip.outputStream, createWriteStream(part), { signal }).catch((error: unknown) => {
      throw signal.aborted ? signal.reason : error;
    });
    await flush(part);
    await rename(part, file);
  } catch (error) {
    await rm(part, { force: true }).catch(() => undefined);
    throw error;
  }
  await flushFolder(path.dirname(file));
}

const sizeOf = (content: Content): number => (content instanceof Uint8Array ? content.length : content.bytes);

async function* bytesOf(content: Content): AsyncGenerator<Uint8Array> {
  if (content instanceof Uint8Array) yield content;
  else if (content.bytes > 0)
    yield* createReadStream(content.file, { end: content.bytes - 1 }) as AsyncIterable<Buffer>;
}

async function hashOf(content: Content): Promise<string> {
  const hash = createHash('sha256');
  for await (const piece of bytesOf(content)) hash.update(piece);
  return hash.digest('hex');
}

/** The bytes of a content that had this hash. Throws {@link ChangedMeanwhile}, at its end at the latest. */
async function* checked(content: Content, sha256: string): AsyncGenerator<Uint8Array> {
  const changed = new ChangedMeanwhile(content instanceof Uint8Array ? 'What was given' : content.file);
  const hash = createHash('sha256');
  try {
    for await (const piece of bytesOf(content)) {
      hash.update(piece);
      yield piece;
    }
  } catch (error) {
    throw (error as NodeJS.ErrnoException).code === 'ENOENT' ? changed : error;
  }
  if (hash.digest('hex') !== sha256) throw changed;
}

async function flush(file: string): Promise<void> {
  const handle = await open(file, 'r+');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}
