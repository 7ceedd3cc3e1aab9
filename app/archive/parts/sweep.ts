import { sql } from 'kysely';
import type { Archive, Seen } from '../store/connection.ts';
import type { Parts } from './parts.ts';

/** Holds a content in place until the transaction ends: nobody sweeps it meanwhile. */
export async function holdPart(db: Seen, sha256: string): Promise<void> {
  await sql`select pg_advisory_xact_lock_shared(hashtextextended(${sha256}, 0))`.execute(db);
}

/** Removes those of some contents that no attempt has, or has any more. Gives their hashes. */
export async function sweepParts(
  archive: Archive,
  parts: Parts,
  hashes: readonly string[],
): Promise<string[]> {
  const gone: string[] = [];
  for (const sha256 of new Set(hashes))
    await archive.as({ role: 'keeper' }, async (db) => {
      await sql`select pg_advisory_xact_lock(hashtextextended(${sha256}, 0))`.execute(db);
      const isHad = await db
        .selectFrom('attempt_parts')
        .select('sha256')
        .where('sha256', '=', sha256)
        .executeTakeFirst();
      if (isHad) return;
      await db.deleteFrom('parts').where('sha256', '=', sha256).execute();
      // Before the row is gone for good: where this fails, the row stays and tells of it.
      await parts.remove(sha256);
      gone.push(sha256);
    });
  return gone;
}
