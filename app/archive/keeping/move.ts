import { createHash } from 'node:crypto';
import path from 'node:path';
import { sql } from 'kysely';
import { replaceFile, textIfThere } from '../../disk/wholeFile.ts';
import type { Archive, Place, Seen } from '../store/connection.ts';
import { KEPT_TABLES, type KeptTable } from './keptTables.ts';
import {
  atOneMoment,
  checkTables,
  continueNumbers,
  lastKey,
  putRows,
  rowsOf,
  sumOf,
  type Row,
} from './rows.ts';

/** An archive cannot be moved into that database, or did not come out as it was. */
export class CannotMove extends Error {
  override readonly name = 'CannotMove';
}

/** What a move has done. */
export interface Moved {
  /** Rows of each table, the same in both. */
  readonly rows: Readonly<Record<string, number>>;
  /** Rows that an earlier try, which was broken off, had brought over. */
  readonly before: number;
}

/**
 * Moves an archive into an empty database: row by row in the order of their keys, so that one that was broken off goes on where it
 * was. Then every table is read on both sides, counted and hashed. Nothing may use either meanwhile; the first stays as it was.
 *
 * @param report hears of each table, and how many rows it has
 * @throws {CannotMove} the database belongs to another archive, or a table differs
 */
export async function move(
  from: Archive,
  to: Archive,
  report: (table: string, rows: number) => void,
): Promise<Moved> {
  return atOneMoment(from, async (source) => {
    await checkTables(source);
    await begin(to, await whichArchive(source));
    let before = 0;
    for (const table of KEPT_TABLES) before += await copyTable(source, to, table);
    const rows: Record<string, number> = {};
    await atOneMoment(to, async (target) => {
      for (const table of KEPT_TABLES) {
        rows[table.name] = await sameIn(source, target, table);
        report(table.name, rows[table.name] ?? 0);
      }
      await continueNumbers(target);
      await sql`drop table moving`.execute(target);
    });
    return { rows, before };
  });
}

/** Where an archive's folder says that it was moved. */
const MOVED = 'moved.json';

/**
 * Notes in an archive's folder where it was moved, so that nobody goes on with the old one.
 *
 * @param database its address
 */
export async function noteMoved(folder: string, database: string): Promise<void> {
  const { host, pathname } = new URL(database);
  await replaceFile(path.join(folder, MOVED), `${JSON.stringify({ to: `${host}${pathname}` })}\n`);
}

/** @throws {CannotMove} the archive was moved elsewhere, or is being moved into that place and not whole */
export async function checkWhole(place: Place, archive: Archive): Promise<void> {
  const moved = 'folder' in place ? await textIfThere(path.join(place.folder, MOVED)) : null;
  if (moved !== null && 'folder' in place)
    throw new CannotMove(
      `The archive of ${place.folder} was moved: ${moved.trim()}. Give that database, with --database. To go on with the old one all the same, delete ${MOVED} there.`,
    );
  if (await isMoving(archive))
    throw new CannotMove(
      'An archive is being moved into that database. Let "sinkside archive move" come to its end first.',
    );
}

/** Whether a move into that archive was begun and not ended: then it is not whole. */
export async function isMoving({ db }: Archive): Promise<boolean> {
  const { rows } = await sql<{ there: boolean }>`select to_regclass('moving') is not null as there`.execute(
    db,
  );
  return rows[0]?.there === true;
}

/** Stands for an archive: its schools and stations, which are not changed while it is moved. */
async function whichArchive(db: Seen): Promise<string> {
  const sums = [];
  for (const table of KEPT_TABLES.filter(({ name }) => ['schools', 'stations', 'accounts'].includes(name)))
    sums.push((await sumOf(db, table)).sha256);
  return createHash('sha256').update(sums.join(' ')).digest('hex');
}

/** Notes in the database what is being moved into it. */
async function begin(to: Archive, which: string): Promise<void> {
  if (await isMoving(to)) {
    const { rows } = await sql<{ which: string }>`select which from moving`.execute(to.db);
    if (rows[0]?.which === which) return;
    throw new CannotMove(
      'Another archive is being moved into that database. Go on with that, or give an empty database.',
    );
  }
  await atOneMoment(to, async (db) => {
    for (const table of KEPT_TABLES)
      if (await lastKey(db, table))
        throw new CannotMove(`That database holds an archive already (${table.name}). Give an empty one.`);
    await sql`select set_config('role', 'none', true)`.execute(db);
    await sql`create table moving (which text not null)`.execute(db);
    await sql`insert into moving values (${which})`.execute(db);
  });
}

/** Copies the rows that are still missing, a page in a transaction of its own. Gives how many there were before. */
async function copyTable(source: Seen, to: Archive, table: KeptTable): Promise<number> {
  const as = <T>(work: (db: Seen) => Promise<T>): Promise<T> => to.as({ role: 'keeper' }, work);
  const after = await as((db) => lastKey(db, table));
  const before = after === null ? 0 : await as((db) => countOf(db, table));
  for await (const rows of rowsOf(source, table, after))
    await as((db) =>
      putRows(
        db,
        table,
        rows.map(({ json }) => json),
      ),
    );
  return before;
}

async function countOf(db: Seen, { name }: KeptTable): Promise<number> {
  const { rows } = await sql<{
    count: string;
  }>`select count(*)::text as count from ${sql.table(name)}`.execute(db);
  return Number(rows[0]?.count);
}

/** Compares a table row by row. Gives how many rows it has. Throws {@link CannotMove} at the first page that differs. */
async function sameIn(source: Seen, target: Seen, table: KeptTable): Promise<number> {
  const moved = rowsOf(target, table);
  let count = 0;
  for await (const page of rowsOf(source, table)) {
    const other = (await moved.next()).value as readonly Row[] | undefined;
    const differs = page.findIndex(({ json }, i) => other?.[i]?.json !== json);
    if (differs >= 0 || other?.length !== page.length) throw different(table, page[Math.max(0, differs)]);
    count += page.length;
  }
  const more = (await moved.next()).value as readonly Row[] | undefined;
  if (more) throw different(table, more[0]);
  return count;
}

const different = ({ name }: KeptTable, row: Row | undefined): CannotMove =>
  new CannotMove(
    `The table ${name} differs at ${row?.key.join(', ') ?? 'its end'}. Nothing may use the archives while they are moved. Move into a new, empty database.`,
  );
