import type { Migration, MigrationProvider } from 'kysely';
import { tables } from './migrations/0001-tables.ts';
import { policies } from './migrations/0002-policies.ts';

/** In their order, which never changes: what was run once is never edited, only followed by another one. */
const MIGRATIONS: Readonly<Record<string, Migration>> = {
  '0001-tables': tables,
  '0002-policies': policies,
};

/** The archive's migrations, built into the program. */
export const migrations: MigrationProvider = { getMigrations: async () => ({ ...MIGRATIONS }) };
