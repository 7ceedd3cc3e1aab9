import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { createGunzip } from 'node:zlib';
import { messageOf } from '../../faults/faults.ts';
import type { Parts } from '../parts/parts.ts';
import type { Archive, Seen } from '../store/connection.ts';
import { ranIn } from '../store/migrate.ts';
import { copyParts, fileOfTable, manifestIn, partsOf, type BackupManifest } from './backup.ts';
import { KEPT_TABLES, type KeptTable } from './keptTables.ts';
import { atOneMoment, continueNumbers, lastKey, putRows, sumOf, type Sum } from './rows.ts';

/** A backup cannot be restored, or not into that archive. Nothing was changed. */
export class CannotRestore extends Error {
  override readonly name = 'CannotRestore';
}

/** Rows put in at once, by their number and their characters. */
const MOST_ROWS = 1000;
const MOST_CHARACTERS = 4 << 20;

/**
 * Puts a backup into an archive that is empty, all of it or nothing, and counts and hashes afterwards that every table is as it was.
 * The files of attempts come first: rows never tell of files that are not there.
 *
 * @param folder the backup's own, beside the files that all backups share
 * @throws {CannotRestore}
 */
export async function restore(folder: string, archive: Archive, parts: Parts): Promise<BackupManifest> {
  const manifest = await manifestIn(folder);
  if (!manifest) throw new CannotRestore(`${folder} holds no whole backup.`);
  const hashes = new Set<string>();
  await eachRow(folder, 'parts', (rows) => {
    for (const row of rows) hashes.add(String((JSON.parse(row) as { sha256: unknown }).sha256));
    return Promise.resolve();
  });
  await atOneMoment(archive, async (db) => {
    await checkEmpty(db, manifest);
    await copyParts(hashes, partsOf(path.dirname(folder)), parts, () => Promise.resolve(true));
    for (const table of KEPT_TABLES) await putTable(db, table, folder, manifest);
    await continueNumbers(db);
  });
  return manifest;
}

async function checkEmpty(db: Seen, { migration, program }: BackupManifest): Promise<void> {
  const here = (await ranIn(db)).at(-1);
  if (here !== migration)
    throw new CannotRestore(
      `The backup's tables are at "${migration}" and this program's at "${here}". Restore it with version ${program} of the program, then open it with this one.`,
    );
  for (const table of KEPT_TABLES) {
    if (await lastKey(db, table))
      throw new CannotRestore(
        `The archive is not empty (${table.name}). Restore into a new folder or database.`,
      );
  }
}

async function putTable(db: Seen, table: KeptTable, folder: string, manifest: BackupManifest): Promise<void> {
  const read = await eachRow(folder, table.name, (rows) => putRows(db, table, rows));
  const said = manifest.tables[table.name];
  check(read, said, `${fileOfTable(folder, table.name)} is damaged`);
  check(await sumOf(db, table), said, `The table ${table.name} did not come out as it was`);
}

function check(found: Sum, said: Sum | undefined, what: string): void {
  if (found.rows === said?.rows && found.sha256 === said.sha256) return;
  throw new CannotRestore(
    `${what}: ${found.rows} rows, ${said?.rows ?? 'none'} expected, or others. Take another backup.`,
  );
}

/** Reads a backup's table, some rows at a time. Gives their count and hash. */
async function eachRow(folder: string, table: string, put: (rows: string[]) => Promise<void>): Promise<Sum> {
  const hash = createHash('sha256');
  let count = 0;
  let rows: string[] = [];
  let characters = 0;
  const flush = async (): Promise<void> => {
    if (rows.length > 0) await put(rows);
    rows = [];
    characters = 0;
  };
  for await (const row of rowsIn(fileOfTable(folder, table))) {
    hash.update(`${row}\n`);
    count += 1;
    rows.push(row);
    characters += row.length;
    if (rows.length >= MOST_ROWS || characters >= MOST_CHARACTERS) await flush();
  }
  await flush();
  return { rows: count, sha256: hash.digest('hex') };
}

/** The lines of a packed file. Only a newline ends one: what else Unicode knows as an end may stand in a text. */
async function* rowsIn(file: string): AsyncGenerator<string> {
  const unzipped = createGunzip().setEncoding('utf8');
  const reading = pipeline(createReadStream(file), unzipped).catch((error: unknown) => error);
  let rest = '';
  try {
    for await (const piece of unzipped as AsyncIterable<string>) {
      const rows = (rest + piece).split('\n');
      rest = rows.pop() ?? '';
      yield* rows;
    }
  } catch (error) {
    const code = String((error as NodeJS.ErrnoException).code);
    if (!code.startsWith('Z_') && code !== 'ENOENT') throw error;
    throw new CannotRestore(`${file} cannot be read: ${messageOf(error)}. Take another backup.`);
  } finally {
    await reading;
  }
}
