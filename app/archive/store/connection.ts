import { Kysely, PostgresDialect, sql, type Dialect, type Transaction } from 'kysely';
import pg from 'pg';
import { openEmbedded } from './embedded.ts';
import { migrate } from './migrate.ts';
import type { Tables } from './tables.ts';
import { settingsOf, type Who } from './who.ts';

/** Where an archive's database is: embedded in a folder, or on a server by its address, `postgres://USER@HOST/NAME`. */
export type Place = { readonly folder: string } | { readonly database: string };

/** A transaction in which the database's policies hold. */
export type Seen = Transaction<Tables>;

export interface Archive {
  readonly kind: 'embedded' | 'server';
  /** Without a role, for migrations and what has policies of its own. On a server it sees no row of the tables with policies. */
  readonly db: Kysely<Tables>;
  /** Does something in one transaction on somebody's behalf. What it throws undoes all of it. */
  as<T>(who: Who, work: (db: Seen) => Promise<T>): Promise<T>;
  close(): Promise<void>;
}

/** Connections at once to a server, of one process. */
const CONNECTIONS = 10;

/**
 * Opens an archive and brings its tables up to this program's.
 *
 * @param warn hears when an idle connection breaks; the next use opens another
 * @throws {NewerArchive} a newer program made its tables
 * @throws {ArchiveInUse} another process uses that folder
 */
export async function openArchive(
  place: Place,
  warn: (message: string) => void = () => undefined,
): Promise<Archive> {
  const isEmbedded = 'folder' in place;
  const dialect = isEmbedded ? await openEmbedded(place.folder) : serverAt(place.database, warn);
  const db = new Kysely<Tables>({ dialect });
  try {
    await migrate(db);
  } catch (error) {
    await db.destroy();
    throw error;
  }
  return {
    kind: isEmbedded ? 'embedded' : 'server',
    db,
    as: (who, work) =>
      db.transaction().execute(async (transaction) => {
        await become(transaction, who);
        return work(transaction);
      }),
    close: () => db.destroy(),
  };
}

/** From here on to its end, the transaction is somebody else's. */
export async function become(db: Seen, who: Who): Promise<void> {
  const settings = Object.entries(settingsOf(who));
  const set = settings.map(([name, value]) => sql`set_config(${name}, ${value}, true)`);
  await sql`select ${sql.join(set)}`.execute(db);
}

function serverAt(address: string, warn: (message: string) => void): Dialect {
  const pool = new pg.Pool({
    connectionString: address,
    max: CONNECTIONS,
    // Months are counted in UTC, wherever the server stands.
    options: '-c timezone=UTC',
    application_name: 'sinkside',
  });
  pool.on('error', (error) => warn(`The database broke off: ${error.message}`));
  return new PostgresDialect({ pool });
}
