import { Migrator, sql, type Kysely } from 'kysely';
import { migrations } from './migrations.ts';
import type { Tables } from './tables.ts';

/** The tables were made by a program that is newer than this one. */
export class NewerArchive extends Error {
  override readonly name = 'NewerArchive';
}

/**
 * Runs the migrations that are still to be run, in their order; several processes may try at once.
 *
 * @throws {NewerArchive}
 */
export async function migrate(db: Kysely<Tables>): Promise<void> {
  const known = Object.keys(await migrations.getMigrations());
  const unknown = (await ranIn(db)).filter((name) => !known.includes(name));
  if (unknown.length > 0)
    throw new NewerArchive(
      `A newer program made this archive's tables: they are at "${unknown.at(-1)}", and this one knows them up to "${known.at(-1)}". Use the newer program.`,
    );
  const { error } = await new Migrator({ db, provider: migrations }).migrateToLatest();
  if (error === undefined) return;
  throw new Error(`The archive's tables could not be brought up to date: ${(error as Error).message}`, {
    cause: error,
  });
}

/** The names of the migrations that were run, in their order; none in a database that is new. */
export async function ranIn(db: Kysely<Tables>): Promise<string[]> {
  const { rows } = await sql<{ there: boolean }>`
    select to_regclass('kysely_migration') is not null as there`.execute(db);
  if (!rows[0]?.there) return [];
  const ran = await sql<{ name: string }>`select name from kysely_migration order by name`.execute(db);
  return ran.rows.map(({ name }) => name);
}
