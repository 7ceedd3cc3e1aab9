import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
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
      const place = async (): Promise<Place> => ({ folder: path.join(root, String(++made)) });
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
