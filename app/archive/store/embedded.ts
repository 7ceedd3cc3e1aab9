import { mkdir } from 'node:fs/promises';
import { randomUUID } from 'node:crypto';
import path from 'node:path';
import { PGlite, types, type Results } from '@electric-sql/pglite';
import { PostgresDialect, type PostgresPool, type PostgresPoolClient } from 'kysely';
import { FolderHeld, holdFolder } from '../../disk/folderLock.ts';

/** Another process uses the embedded database of that folder. */
export class ArchiveInUse extends Error {
  override readonly name = 'ArchiveInUse';
}

/** Folders that this process has open. */
const OPEN = new Set<string>();

/**
 * PostgreSQL in WebAssembly, its files in a folder. It has one connection, so whoever wants it waits for its turn.
 *
 * @throws {ArchiveInUse}
 */
export async function openEmbedded(folder: string): Promise<PostgresDialect> {
  await mkdir(folder, { recursive: true });
  const release = await hold(folder);
  try {
    const lite = await PGlite.create({
      dataDir: path.join(folder, 'postgres'),
      // As text, like those of a server: no digit is lost.
      parsers: { [types.INT8]: (value) => value },
    });
    await lite.exec(`set timezone = 'UTC'`);
    return new PostgresDialect({ pool: poolOf(lite, release) });
  } catch (error) {
    await release();
    throw error;
  }
}

async function hold(folder: string): Promise<() => Promise<void>> {
  const place = path.resolve(folder);
  const inUse = (since: string): ArchiveInUse =>
    new ArchiveInUse(`The archive in ${place} is in use ${since}. End that first, or ask it instead.`);
  if (OPEN.has(place)) throw inUse('by this program');
  OPEN.add(place);
  try {
    // It answers at no port: a lock counts while its process runs. One of this very id was left before a restart.
    const release = await holdFolder(place, 1, randomUUID(), {
      isRunning: (pid) => pid !== process.pid && isRunning(pid),
      ask: () => Promise.resolve('silent'),
    });
    return async () => {
      OPEN.delete(place);
      await release();
    };
  } catch (error) {
    OPEN.delete(place);
    if (!(error instanceof FolderHeld)) throw error;
    throw inUse(`by process ${error.holder.pid}, since ${error.holder.startedAt}`);
  }
}

function isRunning(pid: number): boolean {
  try {
    // Signal 0 is not sent: it only asks.
    return process.kill(pid, 0);
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** A statement; or, where there are no parameters, several, as a server takes them too: then the result is that of the last. */
async function ask<R>(lite: PGlite, text: string, parameters: readonly unknown[]): Promise<Results<R>> {
  if (parameters.length > 0) return lite.query<R>(text, [...parameters]);
  const results = await lite.exec(text);
  // What comes is what was asked for: with `query`, too, the type is the caller's word.
  return (results.at(-1) as Results<R> | undefined) ?? { rows: [], fields: [] };
}

/** The one connection, as a pool that Kysely takes. */
function poolOf(lite: PGlite, release: () => Promise<void>): PostgresPool {
  let last: Promise<void> = Promise.resolve();
  const query = async <R>(sql: string, parameters: readonly unknown[]) => {
    const { rows, affectedRows = 0 } = await ask<R>(lite, sql, parameters);
    // Which command it was only tells Kysely whether the count means anything; for a SELECT it is 0.
    return { command: 'UPDATE' as const, rowCount: affectedRows, rows };
  };
  const client = (giveBack: () => void): PostgresPoolClient => ({
    // Kysely's interface takes cursors as well, which nothing here asks for.
    query: query as PostgresPoolClient['query'],
    release: giveBack,
  });
  return {
    connect: async () => {
      const before = last;
      let giveBack = (): void => undefined;
      last = new Promise((done) => (giveBack = done));
      await before;
      return client(giveBack);
    },
    end: async () => {
      await last;
      await lite.close();
      await release();
    },
  };
}
