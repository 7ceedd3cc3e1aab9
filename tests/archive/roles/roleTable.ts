import { sql } from 'kysely';
import type { Archive, Seen } from '../../../app/archive/store/connection.ts';
import type { Who } from '../../../app/archive/store/who.ts';

/** Rows that somebody reaches: `-` what they may not ask at all, `held` rows that others of the database still need. */
export type Count = number | '-' | 'held';

/** What of a table somebody sees, may change, and may delete. */
export interface Reach {
  readonly select: Count;
  readonly update: Count;
  readonly delete: Count;
}

/** Who tries: on somebody's behalf, or before the program has said on whose. */
export type Trier = Who | 'nobody';

/** The archive's tables, in the database as it is. */
export async function tablesOf(archive: Archive): Promise<string[]> {
  const { rows } = await sql<{ name: string }>`
    select tablename as name from pg_tables where schemaname = 'public' and tablename not like 'kysely%' order by 1`.execute(
    archive.db,
  );
  return rows.map(({ name }) => name);
}

/** Tries to see, change and delete every row of a table; nothing of it stays. */
export async function reachOf(archive: Archive, who: Trier, table: string): Promise<Reach> {
  let reach: Reach | undefined;
  const undo = new Error('undone');
  const work = async (db: Seen): Promise<void> => {
    const columns = await columnsOf(db, table);
    const update: Count[] = [];
    for (const column of columns) update.push(await updated(db, table, column));
    const select: Count[] = [];
    for (const { name } of columns)
      select.push(await tried(db, sql`select ${sql.ref(name)} from ${sql.table(table)}`));
    reach = {
      select: most(select),
      update: most(update),
      delete: await tried(db, sql`delete from ${sql.table(table)}`),
    };
    throw undo;
  };
  await (who === 'nobody' ? asNobody(archive, work) : archive.as(who, work)).catch((error: unknown) => {
    if (error !== undo) throw error;
  });
  if (!reach) throw new Error('Nothing was tried.');
  return reach;
}

/** As whom the program signs in on a server. The embedded database's one user may do anything, so another of its users stands in. */
function asNobody({ kind, db }: Archive, work: (db: Seen) => Promise<void>): Promise<void> {
  return db.transaction().execute(async (transaction) => {
    if (kind === 'embedded') await sql`set local role pg_read_all_settings`.execute(transaction);
    await work(transaction);
  });
}

interface Column {
  readonly name: string;
  readonly type: string;
}

async function columnsOf(db: Seen, table: string): Promise<Column[]> {
  const { rows } = await sql<Column>`
    select attname as name, format_type(atttypid, atttypmod) as type from pg_attribute
    where attrelid = ${table}::regclass and attnum > 0 and not attisdropped and attidentity = ''`.execute(db);
  return rows;
}

/** Its own value again; a text that may not be read gets another one. */
async function updated(db: Seen, table: string, { name, type }: Column): Promise<Count> {
  const set = sql`update ${sql.table(table)} set ${sql.ref(name)} =`;
  const same = await tried(db, sql`${set} ${sql.ref(name)}`);
  return same === '-' && type === 'text' ? tried(db, sql`${set} gen_random_uuid()::text`) : same;
}

const most = (counts: readonly Count[]): Count =>
  counts.reduce((a, b) => (a === '-' || (b !== '-' && b > a) ? b : a), '-');

const REFUSED = '42501';
const STILL_NEEDED = '23503';
/** Nobody in particular has the policies of all roles at once, which look at each other in a circle: PostgreSQL then answers nothing. */
const RECURSION = '42P17';

/** Rows that a statement reaches. It is undone. */
async function tried(db: Seen, statement: ReturnType<typeof sql>): Promise<Count> {
  await sql`savepoint before`.execute(db);
  try {
    const { rows, numAffectedRows } = await statement.execute(db);
    return rows.length > 0 ? rows.length : Number(numAffectedRows ?? 0n);
  } catch (error) {
    const { code } = error as { code?: string };
    if (code === REFUSED || code === RECURSION) return '-';
    if (code === STILL_NEEDED) return 'held';
    throw error;
  } finally {
    await sql`rollback to savepoint before`.execute(db);
  }
}
