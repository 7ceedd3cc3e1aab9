import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openArchive, type Archive } from '../../app/archive/store/connection.ts';
import { ArchiveInUse } from '../../app/archive/store/embedded.ts';
import { NewerArchive, ranIn } from '../../app/archive/store/migrate.ts';
import { migrations } from '../../app/archive/store/migrations.ts';
import { DATABASES, type TestDatabases } from './databases.ts';
import { uuid } from './made.ts';

describe.each(DATABASES)('an archive on $name', ({ start }) => {
  let databases: TestDatabases;
  let archive: Archive;
  beforeAll(async () => {
    databases = await start();
    archive = await databases.open();
  });
  afterAll(() => databases.end());

  it('has had every migration', async () => {
    expect(await ranIn(archive.db)).toEqual(Object.keys(await migrations.getMigrations()));
  });

  it('undoes all of what fails, and is nobody’s afterwards', async () => {
    const add = archive.as({ role: 'keeper' }, async (db) => {
      await db
        .insertInto('schools')
        .values({ id: uuid(1), name: 'Undone' })
        .execute();
      throw new Error('broke off');
    });
    await expect(add).rejects.toThrow('broke off');
    expect(
      await archive.as({ role: 'keeper' }, (db) => db.selectFrom('schools').selectAll().execute()),
    ).toEqual([]);
    const { rows } = await sql<{ who: string; school: string | null }>`
      select current_user::text as who, current_setting('sinkside.school', true) as school`.execute(
      archive.db,
    );
    expect(rows[0]?.who).not.toMatch(/^sinkside_/);
    expect(rows[0]?.school ?? '').toBe('');
  });

  it('reads numbers, times and moments alike: whole, in UTC', async () => {
    const { rows } = await sql<Record<string, unknown>>`
      select 9007199254740993::bigint as long, count(*) as counted, 7::int as short, 1.5::real as real, true as yes,
        '2026-03-29T01:30:00.123Z'::timestamptz as at, date_trunc('month', '2026-02-28T23:30:00-05'::timestamptz)::text as month
      from schools`.execute(archive.db);
    expect(rows[0]).toEqual({
      long: '9007199254740993',
      counted: '0',
      short: 7,
      real: 1.5,
      yes: true,
      at: new Date('2026-03-29T01:30:00.123Z'),
      month: '2026-03-01 00:00:00+00',
    });
  });

  it('lets many at once take their turns', async () => {
    const add = (n: number): Promise<unknown> =>
      archive.as({ role: 'keeper' }, (db) =>
        db
          .insertInto('schools')
          .values({ id: uuid(100 + n), name: `School ${n}` })
          .execute(),
      );
    await Promise.all(Array.from({ length: 40 }, (_, n) => add(n)));
    const all = await archive.as({ role: 'keeper' }, (db) => db.selectFrom('schools').select('id').execute());
    expect(all).toHaveLength(40);
  });

  it('is opened again as it was, but not where a newer program made its tables', async () => {
    const place = await databases.place();
    const first = await openArchive(place);
    await first.as({ role: 'keeper' }, (db) =>
      db
        .insertInto('schools')
        .values({ id: uuid(1), name: 'Kept' })
        .execute(),
    );
    await first.close();
    const second = await openArchive(place);
    expect(
      await second.as({ role: 'keeper' }, (db) => db.selectFrom('schools').select('name').execute()),
    ).toEqual([{ name: 'Kept' }]);
    await sql`insert into kysely_migration (name, timestamp) values ('9999-newer', '2030')`.execute(
      second.db,
    );
    await second.close();
    await expect(openArchive(place)).rejects.toThrow(NewerArchive);
    await expect(openArchive(place)).rejects.toThrow(/"9999-newer".*Use the newer program/);
  });

  it('in a folder has one process, and says which', async () => {
    const place = await databases.place();
    if (!('folder' in place)) return;
    const first = await openArchive(place);
    await expect(openArchive(place)).rejects.toThrow(ArchiveInUse);
    await first.close();
    await (await openArchive(place)).close();
  });
});
