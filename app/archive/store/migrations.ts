import type { Migration, MigrationProvider } from 'kysely';
import { tables } from './migrations/0001-tables.ts';
import { policies } from './migrations/0002-policies.ts';
import { views } from './migrations/0003-views.ts';
import { markings } from './migrations/0004-markings.ts';

/** In their order, which never changes: what was run once is never edited, only followed by another one. */
const MIGRATIONS: Readonly<Record<string, Migration>> = {
  '0001-tables': tables,
  '0002-policies': policies,
  '0003-views': views,
  '0004-markings': markings,
};

/** The archive's migrations, built into the program. */
export const migrations: MigrationProvider = { getMigrations: async () => ({ ...MIGRATIONS }) };
