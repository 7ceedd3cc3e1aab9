import { createHash } from 'node:crypto';
import { open as openFile } from 'node:fs/promises';
import { crc32 } from 'node:zlib';
import { openPromise, type Entry, type ZipFile } from 'yauzl';
import { MOST_ATTEMPTS } from './limits.ts';
import { ATTEMPT_FILES, MANIFEST_ENTRY } from './manifest.ts';
import { BundleRefused } from './refused.ts';

/** The entries of a ZIP file by their names, in its own order. */
export type Entries = ReadonlyMap<string, Entry>;

/** Opens a ZIP file, whose entries are read when they are asked for. Throws {@link BundleRefused}. */
export async function openArchive(file: string): Promise<ZipFile> {
  const start = await firstBytes(file);
  // Names are looked at here, as the bytes that they are.
  const options = { lazyEntries: true, autoClose: false, decodeStrings: false };
  return openPromise(file, options).catch((error: Error) => {
    if (isOfDisk(error)) throw error;
    throw new BundleRefused(start === LOCAL_HEADER ? 'truncated' : 'not a bundle');
  });
}

/** What a ZIP file begins with: PKWARE's APPNOTE 6.3.9, section 4.3.7. */
const LOCAL_HEADER = 'PK\x03\x04';
/** Where the type of a Unix file stands in an entry's attributes, and what it is for a plain file (POSIX, sys/stat.h); 0 where it is not told. */
const FILE_TYPE_SHIFT = 28;
const PLAIN_FILE = 8;

async function firstBytes(file: string): Promise<string> {
  const handle = await openFile(file);
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(4), 0, 4, 0);
    return buffer.toString('latin1', 0, bytesRead);
  } finally {
    await handle.close();
  }
}

/** Lists what a ZIP file holds. Throws {@link BundleRefused} for a name that no bundle has. */
export async function listEntries(zip: ZipFile): Promise<Entries> {
  // The manifest, and two files of each attempt.
  if (zip.entryCount > 1 + 2 * MOST_ATTEMPTS)
    throw new BundleRefused('too large', `${zip.entryCount} entries`);
  const entries = new Map<string, Entry>();
  try {
    for await (const entry of zip.eachEntry()) {
      const name = nameOf(entry, entries.size === 0);
      if (entries.has(name)) throw new BundleRefused('duplicate entry', name);
      entries.set(name, entry);
    }
  } catch (error) {
    throw asRefusal(error as Error);
  }
  return entries;
}

/** The name of an entry, unless it is one that no bundle holds. */
function nameOf({ fileNameRaw, externalFileAttributes }: Entry, isFirst: boolean): string {
  const name = fileNameRaw.toString('latin1');
  const shown = JSON.stringify(name.slice(0, 100));
  const isUnsafe = /[\\:\0]|^\/|(^|\/)\.{1,2}(\/|$)/.test(name);
  const type = externalFileAttributes >>> FILE_TYPE_SHIFT;
  if (isUnsafe || (type !== 0 && type !== PLAIN_FILE && !name.endsWith('/')))
    throw new BundleRefused('unsafe path', shown);
  if (name === MANIFEST_ENTRY || ATTEMPT_ENTRY.test(name)) return name;
  throw new BundleRefused(isFirst ? 'not a bundle' : 'unexpected entry', shown);
}

/** All in one case, so that no two can become the same file. */
const ATTEMPT_ENTRY = new RegExp(
  `^attempts/[0-9TZ]+-[a-z0-9-]+/(${ATTEMPT_FILES.join('|').replaceAll('.', '\\.')})$`,
);

/** The bytes of an entry, never more than it is said to have. Throws {@link BundleRefused} where it cannot be unpacked. */
export async function* unpack(zip: ZipFile, entry: Entry, name: string): AsyncGenerator<Buffer> {
  try {
    yield* (await zip.openReadStreamPromise(entry)) as AsyncIterable<Buffer>;
  } catch (error) {
    throw asRefusal(error as Error, name);
  }
}

/** All bytes of an entry, whose sum in the ZIP file must be right. Throws {@link BundleRefused}. */
export async function unpackWhole(zip: ZipFile, entry: Entry, name: string): Promise<Buffer> {
  const pieces: Buffer[] = [];
  for await (const piece of unpack(zip, entry, name)) pieces.push(piece);
  const bytes = Buffer.concat(pieces);
  if (crc32(bytes) !== entry.crc32) throw new BundleRefused('tampered', name);
  return bytes;
}

/** The bytes of an entry that has so many of them, and this SHA-256. Throws {@link BundleRefused}, at its end at the latest. */
export async function* unpackChecked(
  zip: ZipFile,
  entry: Entry,
  name: string,
  listed: { readonly bytes: number; readonly sha256: string },
): AsyncGenerator<Buffer> {
  const hash = createHash('sha256');
  let bytes = 0;
  for await (const piece of unpack(zip, entry, name)) {
    bytes += piece.length;
    if (bytes > listed.bytes) throw new BundleRefused('tampered', name);
    hash.update(piece);
    yield piece;
  }
  if (bytes !== listed.bytes || hash.digest('hex') !== listed.sha256)
    throw new BundleRefused('tampered', name);
}

/** What the reader of ZIP files or zlib stumbled over is the file's fault; what the disk says is not. */
const asRefusal = (error: Error, where = ''): Error =>
  error instanceof BundleRefused || isOfDisk(error)
    ? error
    : new BundleRefused('tampered', where || error.message);

const isOfDisk = (error: Error): boolean => (error as NodeJS.ErrnoException).syscall !== undefined;
