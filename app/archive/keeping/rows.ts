import { createHash } from 'node:crypto';
import { sql, type RawBuilder } from 'kysely';
import type { Archive, Seen } from '../store/connection.ts';
import { settingsOf } from '../store/who.ts';
import { COUNTED_TABLES, KEPT_TABLES, type KeptTable } from './keptTables.ts';

/** A row as PostgreSQL writes it as JSON: the same text for the same row, in both kinds of database. */
export interface Row {
  readonly json: string;
  /** Its key, each column as text. */
  readonly key: readonly string[];
}

/** How many rows a table has, and the SHA-256 over their JSON, a line each, in the order of the key. */
export interface Sum {
  readonly rows: number;
  readonly sha256: string;
}

/** Does something in one transaction that sees the archive as it is at this moment, whatever is changed meanwhile. */
export function atOneMoment<T>(archive: Archive, work: (db: Seen) => Promise<T>): Promise<T> {
  return archive.db
    .transaction()
    .setIsolationLevel('repeatable read')
    .execute(async (db) => {
      await asKeeper(db);
      return work(db);
    });
}

/** The transaction sees and changes what the keeper may. */
async function asKeeper(db: Seen): Promise<void> {
  for (const [name, value] of Object.entries(settingsOf({ role: 'keeper' })))
    await sql`select set_config(${name}, ${value}, true)`.execute(db);
}

/** The rows of a table in the order of its key, from behind a key on, a page at a time; only inside a transaction. */
export async function* rowsOf(
  db: Seen,
  { name, key, page }: KeptTable,
  after: readonly string[] | null = null,
): AsyncGenerator<readonly Row[]> {
  const cursor = sql.id(`rows_of_${name}`);
  const columns = sql.join(key.map(([column]) => sql`t.${sql.id(column)}::text`));
  const behind = after === null ? sql`` : sql`where (${ordered(key)}) > (${valuesOf(key, after)})`;
  // Parameters are not taken by DECLARE: the key is one that came out of the database, written as a literal.
  await sql`declare ${cursor} no scroll cursor for
    select row_to_json(t)::text as json, array[${columns}] as key
    from ${sql.table(name)} t ${behind} order by ${ordered(key)}`.execute(db);
  for (;;) {
    const { rows } = await sql<Row>`fetch ${sql.raw(String(page))} from ${cursor}`.execute(db);
    if (rows.length === 0) break;
    yield rows;
  }
  await sql`close ${cursor}`.execute(db);
}

/** Text is ordered by its bytes, since two databases may have different ideas of an alphabet. */
const ordered = (key: KeptTable['key']): RawBuilder<unknown> =>
  sql.join(
    key.map(([column, type]) =>
      type === 'text' ? sql`t.${sql.id(column)} collate "C"` : sql`t.${sql.id(column)}`,
    ),
  );

const valuesOf = (key: KeptTable['key'], values: readonly string[]): RawBuilder<unknown> =>
  sql.join(key.map(([, type], i) => sql`${sql.lit(values[i] ?? '')}::${sql.raw(type)}`));

/** The key of a table's last row; null where it has none. */
export async function lastKey(db: Seen, { name, key }: KeptTable): Promise<readonly string[] | null> {
  const columns = sql.join(key.map(([column]) => sql`t.${sql.id(column)}::text`));
  const backwards = sql.join(key.map((column) => sql`${ordered([column])} desc`));
  const { rows } = await sql<Pick<Row, 'key'>>`
    select array[${columns}] as key from ${sql.table(name)} t order by ${backwards} limit 1`.execute(db);
  return rows[0]?.key ?? null;
}

/** Puts rows into a table, as they were in another. */
export async function putRows(db: Seen, { name }: KeptTable, rows: readonly string[]): Promise<void> {
  const table = sql.table(name);
  await sql`insert into ${table} overriding system value
    select * from json_populate_recordset(null::${table}, ${`[${rows.join(',')}]`}::json)`.execute(db);
}

/** Counts and hashes a table's rows. */
export async function sumOf(db: Seen, table: KeptTable): Promise<Sum> {
  const hash = createHash('sha256');
  let rows = 0;
  for await (const page of rowsOf(db, table)) {
    rows += page.length;
    for (const { json } of page) hash.update(`${json}\n`);
  }
  return { rows, sha256: hash.digest('hex') };
}

/** Numbers given to new rows go on behind the highest there is. Afterwards the transaction is the owner's, outside the policies. */
export async function continueNumbers(db: Seen): Promise<void> {
  const last: [table: string, number: string][] = [];
  for (const table of KEPT_TABLES) {
    const isNumbered = table.key.length === 1 && table.key[0]?.[0] === 'id' && table.key[0][1] !== 'uuid';
    const [number] = (isNumbered && (await lastKey(db, table))) || [];
    if (number !== undefined) last.push([table.name, number]);
  }
  await sql`select set_config('role', 'none', true)`.execute(db);
  for (const [table, number] of last)
    await sql`select setval(pg_get_serial_sequence(${table}, 'id'), ${number}::bigint)`.execute(db);
}

/** @throws {TablesDiffer} the database has a table that `keptTables.ts` leaves out, or lacks one */
export async function checkTables(db: Seen): Promise<void> {
  const { rows } = await sql<{ name: string }>`
    select tablename as name from pg_tables where schemaname = current_schema() and tablename not like 'kysely\\_%'`.execute(
    db,
  );
  const there = rows.map(({ name }) => name).filter((name) => name !== 'moving');
  const known = new Set<string>([...KEPT_TABLES.map(({ name }) => name), ...COUNTED_TABLES]);
  const left = [
    ...there.filter((name) => !known.has(name)),
    ...[...known].filter((name) => !there.includes(name)),
  ];
  if (left.length > 0) throw new TablesDiffer(left);
}

/** The archive has other tables than this program copies: nothing was done, since something would be left out. */
export class TablesDiffer extends Error {
  override readonly name = 'TablesDiffer';
  constructor(tables: readonly string[]) {
    super(
      `The archive and this program differ in these tables, so nothing was copied: ${tables.join(', ')}.`,
    );
  }
}
