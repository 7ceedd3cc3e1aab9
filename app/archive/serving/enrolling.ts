import { randomUUID } from 'node:crypto';
import { sql } from 'kysely';
import type { Archive, Seen } from '../store/connection.ts';
import type { Enrolled } from './api.ts';
import { hashOf, hashOfCode, newCode, newSecret } from './secrets.ts';

/** How long a code works: a day, ms. */
const CODE_LASTS = 24 * 3_600_000;

/** Makes a code with which one station enrols, once. */
export async function makeCode(
  db: Seen,
  school: string,
  stationName: string,
): Promise<{ code: string; endsAt: string }> {
  const code = newCode();
  const ends_at = new Date(Date.now() + CODE_LASTS);
  await db
    .insertInto('enrolments')
    .values({ code_sha256: hashOfCode(code), school_id: school, station_name: stationName, ends_at })
    .execute();
  return { code, endsAt: ends_at.toISOString() };
}

/** Enrols a station by its code, which works no more then; null where there is no such code. */
export async function enrol(archive: Archive, code: string): Promise<Enrolled | null> {
  const secretSha256 = hashOfCode(code);
  const id = randomUUID();
  const key = newSecret();
  const enrolled = await archive.as({ role: 'door', secretSha256 }, async (db) => {
    const open = await db
      .selectFrom('enrolments')
      .select(['school_id', 'station_name'])
      .where('code_sha256', '=', secretSha256)
      .where('station_id', 'is', null)
      .where('ends_at', '>', sql<Date>`now()`)
      // Whoever else tries it at this moment waits, and then finds it used.
      .forUpdate()
      .executeTakeFirst();
    if (!open) return null;
    const { school_id, station_name: name } = open;
    await db
      .insertInto('stations')
      .values({ id, school_id, name, key_sha256: hashOf(key) })
      .execute();
    await db
      .updateTable('enrolments')
      .set({ station_id: id })
      .where('code_sha256', '=', secretSha256)
      .execute();
    return { school_id, name };
  });
  if (!enrolled) return null;
  const { school_id: school, name } = enrolled;
  const names = await archive.as({ role: 'station', station: id, school }, (db) =>
    db.selectFrom('schools').select('name').executeTakeFirstOrThrow(),
  );
  return { station: { id, name }, school: names.name, key };
}
