import { stat } from 'node:fs/promises';
import type { ZipFile } from 'yauzl';
import type { z } from 'zod';
import { fieldOf } from '../faults/faults.ts';
import { listEntries, openArchive, unpackChecked, unpackWhole, type Entries } from './entries.ts';
import { MOST_BUNDLE, MOST_MANIFEST } from './limits.ts';
import {
  attemptHash,
  BUNDLE_VERSION,
  entryOf,
  MANIFEST_ENTRY,
  ManifestSchema,
  type CarriedFile,
  type Manifest,
} from './manifest.ts';
import { BundleRefused } from './refused.ts';

/** A bundle whose manifest was read and fits what the file holds. Paths are those that `entryOf` gives. */
export interface OpenBundle {
  readonly manifest: Manifest;
  /** All bytes of a file, checked. Throws {@link BundleRefused}. */
  read(path: string): Promise<Buffer>;
  /** The same piece by piece; whether they are the right ones is known at the end. Throws {@link BundleRefused}. */
  stream(path: string): AsyncIterable<Buffer>;
  /** Unpacks and checks a file. Throws {@link BundleRefused}. */
  check(path: string): Promise<void>;
  /** Does so with every file. */
  verify(): Promise<void>;
  close(): Promise<void>;
}

/**
 * Opens a bundle and checks all that can be checked without unpacking its files. Rejects as node:fs does.
 *
 * @throws {BundleRefused}
 */
export async function openBundle(file: string): Promise<OpenBundle> {
  const { size } = await stat(file);
  if (size > MOST_BUNDLE) throw new BundleRefused('too large');
  const zip = await openArchive(file);
  try {
    const entries = await listEntries(zip);
    const manifest = await readManifest(zip, entries);
    return opened(zip, entries, manifest, checkFiles(manifest, entries));
  } catch (error) {
    zip.close();
    throw error;
  }
}

function opened(
  zip: ZipFile,
  entries: Entries,
  manifest: Manifest,
  listed: ReadonlyMap<string, CarriedFile>,
): OpenBundle {
  const stream = (path: string): AsyncIterable<Buffer> => {
    const [entry, carried] = [entries.get(path), listed.get(path)];
    if (!entry || !carried) throw new Error(`The bundle has no file "${path}".`);
    return unpackChecked(zip, entry, path, carried);
  };
  const check = async (path: string): Promise<void> => {
    for await (const piece of stream(path)) void piece;
  };
  return {
    manifest,
    stream,
    check,
    read: async (path) => {
      const pieces: Buffer[] = [];
      for await (const piece of stream(path)) pieces.push(piece);
      return Buffer.concat(pieces);
    },
    verify: async () => {
      for (const path of listed.keys()) await check(path);
    },
    close: () => Promise.resolve(zip.close()),
  };
}

async function readManifest(zip: ZipFile, entries: Entries): Promise<Manifest> {
  const [first] = entries;
  if (first?.[0] !== MANIFEST_ENTRY) throw new BundleRefused('not a bundle');
  const [name, entry] = first;
  if (entry.uncompressedSize > MOST_MANIFEST) throw new BundleRefused('too large', name);
  const value = jsonOf(await unpackWhole(zip, entry, name));
  if (!isObject(value) || value['format'] !== 'sinkside-bundle') throw new BundleRefused('not a bundle');
  const { version } = value;
  if (Number.isInteger(version) && Number(version) > BUNDLE_VERSION) throw new BundleRefused('newer');
  const checked = ManifestSchema.safeParse(value);
  if (!checked.success) throw new BundleRefused('bad manifest', firstIssue(checked.error));
  return checked.data;
}

/** The files that a manifest lists, by where they are. Throws {@link BundleRefused} unless they are those that there are. */
function checkFiles({ attempts }: Manifest, entries: Entries): Map<string, CarriedFile> {
  const listed = new Map<string, CarriedFile>();
  for (const { record, sha256, files } of attempts) {
    if (attemptHash(files) !== sha256) throw new BundleRefused('tampered', record);
    for (const file of files) listed.set(entryOf(record, file.path), file);
  }
  let whole = 0;
  for (const [path, { bytes }] of listed) {
    if (entries.get(path)?.uncompressedSize !== bytes) throw new BundleRefused('tampered', path);
    whole += bytes;
  }
  if (whole > MOST_BUNDLE) throw new BundleRefused('too large');
  for (const name of entries.keys())
    if (name !== MANIFEST_ENTRY && !listed.has(name)) throw new BundleRefused('unexpected entry', name);
  return listed;
}

function firstIssue({ issues: [issue] }: z.ZodError): string {
  const field = fieldOf((issue?.path ?? []).filter((key) => typeof key !== 'symbol'));
  return `${field === '' ? '' : `${field}: `}${issue?.message}`;
}

function jsonOf(bytes: Buffer): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    return null;
  }
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null;
