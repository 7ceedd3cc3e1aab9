import { createHash } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, readdir, rename, rm } from 'node:fs/promises';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import { z } from 'zod';
import program from '../../../package.json' with { type: 'json' };
import { flushFolder, replaceFile, textIfThere } from '../../disk/wholeFile.ts';
import { FileParts } from '../parts/fileParts.ts';
import type { Parts } from '../parts/parts.ts';
import type { Archive, Seen } from '../store/connection.ts';
import { ranIn } from '../store/migrate.ts';
import { KEPT_TABLES, type KeptTable } from './keptTables.ts';
import { atOneMoment, checkTables, rowsOf, type Sum } from './rows.ts';

const SumSchema = z.object({ rows: z.number().int().nonnegative(), sha256: z.string().length(64) });

/** What a backup says of itself; written last, so that one without it is none. */
const ManifestSchema = z.object({
  format: z.literal('sinkside-archive-backup'),
  version: z.literal(1),
  madeAt: z.iso.datetime(),
  program: z.string(),
  /** The last migration that the tables had. */
  migration: z.string(),
  tables: z.record(z.string(), SumSchema),
  /** Files of attempts, which all backups in a folder share. */
  parts: z.object({ count: z.number().int().nonnegative(), bytes: z.number().nonnegative() }),
});
export type BackupManifest = Readonly<z.infer<typeof ManifestSchema>>;

/** A backup, and its folder. */
export interface Backup {
  readonly folder: string;
  readonly manifest: BackupManifest;
}

/** The file in a backup's folder that makes it one. */
const MANIFEST = 'backup.json';
const UNFINISHED = '.new-';

/** Where a backup has a table: gzip over one row a line, as JSON. */
export const fileOfTable = (folder: string, table: string): string => path.join(folder, `${table}.jsonl.gz`);

/** The files of attempts that the backups of a folder share. */
export const partsOf = (backups: string): Parts => new FileParts(path.join(backups, 'parts'));

/**
 * Writes all of an archive as it is at one moment into a new folder, named by the time, which appears whole or not at all. It may be
 * used meanwhile. Of the files of attempts only those are copied that no backup there has yet.
 *
 * @param backups the folder of all backups
 * @param now ms since 1970
 * @throws {MissingPart} a file of an attempt that is still there is lost; {@link DamagedPart} likewise
 */
export async function backUp(archive: Archive, parts: Parts, backups: string, now: number): Promise<Backup> {
  const madeAt = new Date(now).toISOString();
  const name = madeAt.replace(/[-:]|\.\d+/g, '');
  const fresh = path.join(backups, `${UNFINISHED}${name}`);
  await rm(fresh, { recursive: true, force: true });
  await mkdir(fresh, { recursive: true });
  const tables: Record<string, Sum> = {};
  const hashes: string[] = [];
  const migration = await atOneMoment(archive, async (db) => {
    await checkTables(db);
    for (const table of KEPT_TABLES) tables[table.name] = await writeTable(db, table, fresh);
    const rows = await db.selectFrom('parts').select('sha256').orderBy('sha256').execute();
    hashes.push(...rows.map(({ sha256 }) => sha256));
    return (await ranIn(db)).at(-1) ?? '';
  });
  const bytes = await copyParts(hashes, parts, partsOf(backups), (sha256) => isStillThere(archive, sha256));
  const manifest: BackupManifest = {
    format: 'sinkside-archive-backup',
    version: 1,
    madeAt,
    program: program.version,
    migration,
    tables,
    parts: { count: hashes.length, bytes },
  };
  await replaceFile(path.join(fresh, MANIFEST), `${JSON.stringify(manifest, null, 2)}\n`);
  const folder = path.join(backups, name);
  await rename(fresh, folder);
  await flushFolder(backups);
  return { folder, manifest };
}

async function writeTable(db: Seen, table: KeptTable, folder: string): Promise<Sum> {
  const hash = createHash('sha256');
  let rows = 0;
  async function* lines(): AsyncGenerator<string> {
    for await (const page of rowsOf(db, table)) {
      const text = page.map(({ json }) => `${json}\n`).join('');
      hash.update(text);
      rows += page.length;
      yield text;
    }
  }
  const file = createWriteStream(fileOfTable(folder, table.name), { flush: true });
  await pipeline(lines, createGzip({ level: 4 }), file);
  return { rows, sha256: hash.digest('hex') };
}

/**
 * Copies files of attempts that are not there yet. Gives their bytes.
 *
 * @param isWanted whether one that is missing is still wanted: it may have been deleted meanwhile
 */
export async function copyParts(
  hashes: Iterable<string>,
  from: Parts,
  to: Parts,
  isWanted: (sha256: string) => Promise<boolean>,
): Promise<number> {
  let bytes = 0;
  for (const sha256 of hashes) {
    if (await to.has(sha256)) continue;
    try {
      const content = await from.read(sha256);
      await to.put(sha256, content);
      bytes += content.length;
    } catch (error) {
      if (await isWanted(sha256)) throw error;
    }
  }
  return bytes;
}

const isStillThere = (archive: Archive, sha256: string): Promise<boolean> =>
  archive.as({ role: 'keeper' }, async (db) => {
    const row = await db.selectFrom('parts').select('sha256').where('sha256', '=', sha256).executeTakeFirst();
    return row !== undefined;
  });

/** The backups in a folder, the oldest first; none where there is no such folder. */
export async function backupsIn(backups: string): Promise<Backup[]> {
  const names = await readdir(backups).catch((error: NodeJS.ErrnoException): string[] => {
    if (error.code === 'ENOENT') return [];
    throw error;
  });
  const found: Backup[] = [];
  for (const name of names.filter((each) => /^\d{8}T\d{6}Z$/.test(each)).sort()) {
    const folder = path.join(backups, name);
    const manifest = await manifestIn(folder);
    if (manifest) found.push({ folder, manifest });
  }
  return found;
}

/** What a backup says of itself; null where the folder holds none. */
export async function manifestIn(folder: string): Promise<BackupManifest | null> {
  const text = await textIfThere(path.join(folder, MANIFEST));
  try {
    return ManifestSchema.safeParse(JSON.parse(text ?? '')).data ?? null;
  } catch {
    return null;
  }
}
