import type { Parts } from '../parts/parts.ts';
import { sweepParts } from '../parts/sweep.ts';
import { become, type Archive, type Seen } from '../store/connection.ts';
import type { Who } from '../store/who.ts';

/** What is deleted, and what of it may have to go as well once that is settled. */
export interface Deleted {
  readonly attempts: readonly { readonly school_id: string; readonly sha256: string }[];
  readonly parts: readonly string[];
}

/** A record that a station has deleted, and when. */
export interface Gone {
  readonly record: string;
  readonly at: string;
}

/**
 * Deletes attempts, with all that hangs on them, and notes that their stations are to be told. Other ids are passed over, also those of
 * attempts that are not for who deletes.
 */
export async function deleteAttempts(db: Seen, ids: readonly string[]): Promise<Deleted> {
  if (ids.length === 0) return { attempts: [], parts: [] };
  const parts = await db
    .selectFrom('attempt_parts')
    .select('sha256')
    .where('attempt_id', 'in', ids)
    .execute();
  const attempts = await db
    .deleteFrom('attempts')
    .where('id', 'in', ids)
    .returning(['station_id', 'record', 'school_id', 'sha256'])
    .execute();
  const deletions = attempts.map(({ station_id, record }) => ({ station_id, record }));
  if (deletions.length > 0)
    await db
      .insertInto('deletions')
      .values(deletions)
      .onConflict((conflict) => conflict.doNothing())
      .execute();
  return { attempts, parts: parts.map(({ sha256 }) => sha256) };
}

/**
 * Deletes something in one transaction: also other stations that have a copy are to be told, and sound that no attempt has any more goes.
 *
 * @param work what is deleted, on somebody's behalf
 */
export async function deleting(
  archive: Archive,
  parts: Parts,
  who: Who,
  work: (db: Seen) => Promise<Deleted>,
): Promise<void> {
  const deleted = await archive.as(who, async (db) => {
    const done = await work(db);
    await become(db, { role: 'keeper' });
    for (const { school_id, sha256 } of done.attempts) await tellCopies(db, school_id, sha256);
    return done;
  });
  await sweepParts(archive, parts, deleted.parts);
}

async function tellCopies(db: Seen, school: string, sha256: string): Promise<void> {
  const copies = await db
    .deleteFrom('copies')
    .where('school_id', '=', school)
    .where('sha256', '=', sha256)
    .returning(['station_id', 'record'])
    .execute();
  if (copies.length === 0) return;
  await db
    .insertInto('deletions')
    .values(copies)
    .onConflict((conflict) => conflict.doNothing())
    .execute();
}

/**
 * Deletes what a station says is no longer there. What it has as a copy of another station's stays in the archive: only that it has one
 * is forgotten.
 */
export function noteGone(
  archive: Archive,
  parts: Parts,
  station: Who & { readonly role: 'station' },
  gone: readonly Gone[],
): Promise<void> {
  const records = gone.map(({ record }) => record);
  return deleting(archive, parts, station, async (db) => {
    if (records.length === 0) return { attempts: [], parts: [] };
    await db.deleteFrom('copies').where('record', 'in', records).execute();
    const rows = await db.selectFrom('attempts').select('id').where('record', 'in', records).execute();
    const deleted = await deleteAttempts(
      db,
      rows.map(({ id }) => id),
    );
    const told = gone.map(({ record, at }) => ({
      station_id: station.station,
      record,
      deleted_at: new Date(at),
      told_station_at: new Date(),
    }));
    await db
      .insertInto('deletions')
      .values(told)
      .onConflict((conflict) =>
        conflict
          .columns(['station_id', 'record'])
          .doUpdateSet({ told_station_at: ({ ref }) => ref('excluded.told_station_at') }),
      )
      .execute();
    return deleted;
  });
}

/** What a station still has to delete, the oldest first. */
export async function toDelete(db: Seen, station: string): Promise<{ record: string; deletedAt: string }[]> {
  const rows = await db
    .selectFrom('deletions')
    .select(['record', 'deleted_at'])
    .where('station_id', '=', station)
    .where('told_station_at', 'is', null)
    .orderBy('deleted_at')
    .limit(1000)
    .execute();
  return rows.map(({ record, deleted_at }) => ({ record, deletedAt: deleted_at.toISOString() }));
}

/** Attempts deleted at once, so that no transaction gets long. */
const AT_ONCE = 500;

/** Deletes the attempts whose time to be kept is over. Gives how many. */
export async function deleteExpired(archive: Archive, parts: Parts, now: Date): Promise<number> {
  for (let count = 0; ;) {
    let found = 0;
    await deleting(archive, parts, { role: 'keeper' }, async (db) => {
      const rows = await db
        .selectFrom('attempts')
        .select('id')
        .where('keep_until', '<=', now)
        .limit(AT_ONCE)
        .execute();
      found = rows.length;
      return deleteAttempts(
        db,
        rows.map(({ id }) => id),
      );
    });
    count += found;
    if (found < AT_ONCE) return count;
  }
}
