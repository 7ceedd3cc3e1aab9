import { statfs } from 'node:fs/promises';
import { sql } from 'kysely';
import { z } from 'zod';
import program from '../../../package.json' with { type: 'json' };
import type { Archive, Seen } from '../store/connection.ts';
import { ranIn } from '../store/migrate.ts';
import { progressOf } from '../work/progress.ts';
import { backupsIn } from './backup.ts';

/** How an archive stands. Sizes in bytes. */
export const StatusSchema = z.object({
  program: z.string(),
  /** The last migration that its tables have. */
  migration: z.string(),
  database: z.object({ kind: z.enum(['embedded', 'server']), version: z.string(), bytes: z.number() }),
  attempts: z.object({ count: z.number(), lastTakenAt: z.iso.datetime().nullable() }),
  parts: z.object({ count: z.number(), bytes: z.number() }),
  stations: z.object({
    /** Those that are not revoked. */
    count: z.number(),
    /** The one that was not heard of for longest; null where every one was, or none is. */
    longestSilent: z.object({ name: z.string(), lastSeenAt: z.iso.datetime().nullable() }).nullable(),
  }),
  /** Deletions that a station has not said to have carried out. */
  deletionsUntold: z.number(),
  /** Attempts that are to be marked again. */
  queue: z.object({
    waiting: z.number(),
    active: z.number(),
    failed: z.number(),
    oldestWaitingAt: z.iso.datetime().nullable(),
  }),
  /** What is being marked again: how far it is, the rate of the last minute, and how long it will take at that. */
  markings: z.array(
    z.object({
      skill: z.string(),
      version: z.number(),
      of: z.number(),
      done: z.number(),
      changed: z.number(),
      leftOut: z.number(),
      perMinute: z.number(),
      secondsLeft: z.number().nullable(),
    }),
  ),
  backups: z.object({
    count: z.number(),
    oldest: z.iso.datetime().nullable(),
    newest: z.iso.datetime().nullable(),
  }),
  /** Of the disk that holds the archive's folder; null where that is not here. */
  disk: z.object({ free: z.number(), size: z.number() }).nullable(),
});
export type Status = z.infer<typeof StatusSchema>;

/**
 * Looks at an archive.
 *
 * @param folder the archive's own, for the room on its disk
 * @param backups the folder of its backups
 */
export async function statusOf(archive: Archive, folder: string, backups: string): Promise<Status> {
  const made = (await backupsIn(backups)).map(({ manifest }) => manifest.madeAt);
  const disk = await statfs(folder).catch(() => null);
  const counted = await archive.as({ role: 'keeper' }, countedIn);
  return {
    program: program.version,
    migration: (await ranIn(archive.db)).at(-1) ?? '',
    database: { kind: archive.kind, ...(await databaseOf(archive)) },
    ...counted,
    queue: await queueOf(archive),
    markings: (await progressOf(archive)).filter(({ done, of }) => done < of),
    backups: { count: made.length, oldest: made[0] ?? null, newest: made.at(-1) ?? null },
    disk: disk && { free: disk.bavail * disk.bsize, size: disk.blocks * disk.bsize },
  };
}

async function databaseOf({ db }: Archive): Promise<{ version: string; bytes: number }> {
  const { rows } = await sql<{ version: string; bytes: string }>`
    select current_setting('server_version') as version, pg_database_size(current_database())::text as bytes`.execute(
    db,
  );
  return { version: rows[0]?.version ?? '', bytes: Number(rows[0]?.bytes) };
}

type Counted = Pick<Status, 'attempts' | 'parts' | 'stations' | 'deletionsUntold'>;

async function countedIn(db: Seen): Promise<Counted> {
  const { rows } = await sql<{
    attempts: string;
    taken: Date | null;
    parts: string;
    bytes: string;
    untold: string;
  }>`
    select (select count(*) from attempts)::text as attempts,
      (select taken_at from attempts order by id desc limit 1) as taken,
      (select count(*) from parts)::text as parts,
      (select coalesce(sum(bytes), 0) from parts)::text as bytes,
      (select count(*) from deletions where told_station_at is null)::text as untold`.execute(db);
  const [counts] = rows;
  const stations = await db
    .selectFrom('stations')
    .select(['name', 'last_seen_at'])
    .where('revoked_at', 'is', null)
    .orderBy('last_seen_at', (order) => order.asc().nullsFirst())
    .execute();
  const [silent] = stations;
  return {
    attempts: { count: Number(counts?.attempts), lastTakenAt: iso(counts?.taken) },
    parts: { count: Number(counts?.parts), bytes: Number(counts?.bytes) },
    stations: {
      count: stations.length,
      longestSilent: silent ? { name: silent.name, lastSeenAt: iso(silent.last_seen_at) } : null,
    },
    deletionsUntold: Number(counts?.untold),
  };
}

/** The jobs of pg-boss, where it has tables here: its own, in the schema `pgboss`. */
async function queueOf({ db }: Archive): Promise<Status['queue']> {
  const none = { waiting: 0, active: 0, failed: 0, oldestWaitingAt: null };
  const there = await sql<{ there: boolean }>`select to_regclass('pgboss.job') is not null as there`.execute(
    db,
  );
  if (!there.rows[0]?.there) return none;
  const { rows } = await sql<{ waiting: string; active: string; failed: string; oldest: Date | null }>`
    select count(*) filter (where state in ('created', 'retry'))::text as waiting,
      count(*) filter (where state = 'active')::text as active,
      count(*) filter (where state = 'failed')::text as failed,
      min(created_on) filter (where state in ('created', 'retry')) as oldest
    from pgboss.job`.execute(db);
  const [jobs] = rows;
  return {
    waiting: Number(jobs?.waiting),
    active: Number(jobs?.active),
    failed: Number(jobs?.failed),
    oldestWaitingAt: iso(jobs?.oldest),
  };
}

const iso = (date: Date | null | undefined): string | null => date?.toISOString() ?? null;
