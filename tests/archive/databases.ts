import { existsSync } from 'node:fs';
import { cp, mkdtemp, readFile, rename, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { PGlite } from '@electric-sql/pglite';
import { z } from 'zod';
import { openArchive, type Archive, type Place } from '../../app/archive/store/connection.ts';
import { startPostgres } from './postgres.ts';

/** Milliseconds that a database may take to start, where other tests keep the processors busy. */
export const PATIENTLY = 120_000;

/** A database system for tests; what it made is gone at its end. */
export interface TestDatabases {
  /** Where a new, empty archive may be. */
  place(): Promise<Place>;
  /** Opens a new one; it is closed at the end. */
  open(): Promise<Archive>;
  end(): Promise<void>;
}

/** Both kinds, on which the same tests run: `describe.each(DATABASES)('… on $name', ({ start }) => …)`. */
export const DATABASES: readonly { readonly name: string; readonly start: () => Promise<TestDatabases> }[] = [
  {
    name: 'PGlite',
    start: async () => {
      const root = await mkdtemp(path.join(tmpdir(), 'sinkside-pglite-'));
      let made = 0;
      const place = async (): Promise<Place> => {
        const folder = path.join(root, String(++made));
        await cp(await emptyCluster(), path.join(folder, 'postgres'), { recursive: true });
        return { folder };
      };
      return closing(place, () => rm(root, { recursive: true, force: true }));
    },
  },
  {
    name: 'PostgreSQL',
    start: async () => {
      const server = await startPostgres();
      const place = async (): Promise<Place> => ({ database: await server.newDatabase() });
      return closing(place, () => server.stop());
    },
  },
];

/**
 * The files of an embedded database without any tables, made once for all tests of this machine: making them takes longer than all that
 * most tests do with them.
 */
async function emptyCluster(): Promise<string> {
  const { version } = z
    .object({ version: z.string() })
    .parse(JSON.parse(await readFile('node_modules/@electric-sql/pglite/package.json', 'utf8')));
  const cluster = path.join(tmpdir(), `sinkside-pglite-empty-${version}`);
  if (existsSync(cluster)) return cluster;
  const fresh = await mkdtemp(`${cluster}-`);
  await (await PGlite.create(fresh)).close();
  await rename(fresh, cluster).catch(async (error: NodeJS.ErrnoException) => {
    // Another test has made it meanwhile.
    if (error.code !== 'ENOTEMPTY' && error.code !== 'EEXIST') throw error;
    await rm(fresh, { recursive: true });
  });
  return cluster;
}

function closing(place: () => Promise<Place>, end: () => Promise<void>): TestDatabases {
  const open: Archive[] = [];
  return {
    place,
    open: async () => {
      const archive = await openArchive(await place());
      open.push(archive);
      return archive;
    },
    end: async () => {
      await Promise.all(open.map((archive) => archive.close()));
      await end();
    },
  };
}
