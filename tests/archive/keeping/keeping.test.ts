import { appendFile, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { backUp, backupsIn, fileOfTable } from '../../../app/archive/keeping/backup.ts';
import { COUNTED_TABLES, KEPT_TABLES } from '../../../app/archive/keeping/keptTables.ts';
import { CannotMove, isMoving, move } from '../../../app/archive/keeping/move.ts';
import { CannotRestore, restore } from '../../../app/archive/keeping/restore.ts';
import { atOneMoment, sumOf, type Sum } from '../../../app/archive/keeping/rows.ts';
import { statusOf, StatusSchema } from '../../../app/archive/keeping/status.ts';
import { FileParts } from '../../../app/archive/parts/fileParts.ts';
import type { Parts } from '../../../app/archive/parts/parts.ts';
import type { Archive } from '../../../app/archive/store/connection.ts';
import { keepProgramSkills } from '../../../app/archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../../app/archive/taking/schoolLibrary.ts';
import { takeIn, type StationWho } from '../../../app/archive/taking/takeIn.ts';
import { openBundle } from '../../../app/bundle/read.ts';
import { writeBundle } from '../../../app/bundle/write.ts';
import { openLibrary, type Library } from '../../../app/library/library.ts';
import { DATABASES, PATIENTLY, type TestDatabases } from '../databases.ts';
import { carried, madeAttempts, uuidOf } from '../stations/madeStation.ts';
import { madeSound, playedNarrations, type Rehearsed } from '../stations/rehearsed.ts';
import { enter, type Simulated } from '../stations/simulation.ts';

const NOW = Date.parse('2026-06-01T08:00:00Z');
const [PGLITE, POSTGRESQL] = DATABASES;

let library: Library;
let played: Rehearsed[] = [];
let sounds: Buffer[] = [];
let root = '';
beforeAll(async () => {
  library = await openLibrary();
  played = await playedNarrations(2);
  sounds = await Promise.all([1, 2].map((seed) => madeSound(1, seed)));
  root = await mkdtemp(path.join(tmpdir(), 'sinkside-keeping-'));
}, PATIENTLY);
afterAll(() => rm(root, { recursive: true, force: true }));

let made = 0;
const folder = (): string => path.join(root, String(++made));

/** An archive with the rehearsals of two stations. */
async function filled(archive: Archive, parts: Parts): Promise<Simulated[]> {
  await keepProgramSkills(archive, library);
  const size = { schools: 1, stations: 2, attempts: 6, soundEach: 1 };
  const stations = await enter(archive, size, played, sounds);
  for (const station of stations) await take(archive, parts, station);
  return stations;
}

async function take(archive: Archive, parts: Parts, { id, attempts }: Simulated): Promise<void> {
  const who: StationWho = { role: 'station', station: id, school: uuidOf('school', 0) };
  const file = path.join(root, `${++made}.zip`);
  await writeBundle(file, attempts.map(carried), []);
  const bundle = await openBundle(file);
  try {
    const taken = await takeIn({ archive, parts, libraries: new SchoolLibraries(library) }, who, bundle);
    expect(taken.refused).toEqual([]);
  } finally {
    await bundle.close();
  }
}

const sums = (archive: Archive): Promise<Record<string, Sum>> =>
  atOneMoment(archive, async (db) => {
    const all: Record<string, Sum> = {};
    for (const table of KEPT_TABLES) all[table.name] = await sumOf(db, table);
    return all;
  });

/** What a trigger counts. */
const counted = (archive: Archive): Promise<unknown> =>
  atOneMoment(archive, async (db) => {
    const all: Record<string, unknown> = {};
    for (const name of COUNTED_TABLES) {
      const { rows } = await sql<{
        row: string;
      }>`select row_to_json(t)::text as row from ${sql.table(name)} t`.execute(db);
      all[name] = rows.map(({ row }) => row).sort();
    }
    return all;
  });

describe.each(DATABASES)('an archive on $name', ({ start }) => {
  let databases: TestDatabases;
  let others: TestDatabases;
  let archive: Archive;
  let parts: Parts;
  let backups = '';
  beforeAll(async () => {
    databases = await start();
    others = await (start === PGLITE?.start ? POSTGRESQL : PGLITE)!.start(); // there are two kinds
    archive = await databases.open();
    parts = new FileParts(folder());
    backups = folder();
    await filled(archive, parts);
  }, PATIENTLY);
  afterAll(async () => {
    await databases.end();
    await others.end();
  }, PATIENTLY);

  it('is backed up, and restored into either kind as it was; new rows then get new numbers', async () => {
    const { folder: backup, manifest } = await backUp(archive, parts, backups, NOW);
    const before = await sums(archive);
    expect(manifest.tables).toEqual(before);
    expect(manifest).toMatchObject({ tables: { attempts: { rows: 6 } }, parts: { count: sounds.length } });
    for (const to of [databases, others]) {
      const restored = await to.open();
      const restoredParts = new FileParts(folder());
      await restore(backup, restored, restoredParts);
      expect(await sums(restored)).toEqual(before);
      expect(await counted(restored)).toEqual(await counted(archive));
      await take(restored, restoredParts, await enterMore(restored));
      expect((await sums(restored))['attempts']?.rows).toBe(8);
    }
  });

  it('is backed up again without copying sound that is there, and lists both', async () => {
    const { manifest } = await backUp(archive, parts, backups, NOW + 60_000);
    expect(manifest.parts).toEqual({ count: sounds.length, bytes: 0 });
    expect((await backupsIn(backups)).map((each) => each.manifest.madeAt)).toEqual([
      '2026-06-01T08:00:00.000Z',
      '2026-06-01T08:01:00.000Z',
    ]);
  });

  it('refuses a backup that is damaged, or an archive that is not empty, and leaves all as it was', async () => {
    const { folder: backup } = await backUp(archive, parts, folder(), NOW);
    await expect(restore(backup, archive, parts)).rejects.toThrow(/not empty/);
    const empty = await databases.open();
    await expect(restore(backups, empty, parts)).rejects.toThrow(/holds no whole backup/);
    const file = fileOfTable(backup, 'marks');
    const whole = await readFile(file);
    await writeFile(file, whole.subarray(0, whole.length - 20));
    await expect(restore(backup, empty, parts)).rejects.toThrow(CannotRestore);
    await writeFile(file, whole);
    await appendFile(file, await readFile(fileOfTable(backup, 'account_classes')));
    const attempts = fileOfTable(backup, 'attempts');
    await writeFile(attempts, await readFile(fileOfTable(backup, 'deletions')));
    await expect(restore(backup, empty, parts)).rejects.toThrow(/attempts.*(damaged|come out)|foreign key/);
    expect((await sums(empty))['schools']?.rows).toBe(0);
  });

  it('tells how it stands', async () => {
    const status = await statusOf(archive, root, backups);
    expect(StatusSchema.parse(status)).toMatchObject({
      migration: expect.stringMatching(/^\d{4}-/),
      database: { kind: archive.kind, bytes: expect.any(Number) },
      attempts: { count: 6, lastTakenAt: expect.any(String) },
      parts: { count: sounds.length },
      stations: { count: 2, longestSilent: { name: expect.stringMatching(/^Station/) } },
      queue: { waiting: 0 },
      backups: { count: 2, oldest: '2026-06-01T08:00:00.000Z', newest: '2026-06-01T08:01:00.000Z' },
      disk: { free: expect.any(Number) },
    });
  });
});

/** One more station, with two rehearsals. */
async function enterMore(archive: Archive): Promise<Simulated> {
  const id = uuidOf('another station');
  const station = { id, school_id: uuidOf('school', 0), name: 'Another', key_sha256: 'f'.repeat(64) };
  await archive.as({ role: 'keeper' }, (db) => db.insertInto('stations').values(station).execute());
  return { id, key: '', attempts: madeAttempts(7, 2, played, sounds, 1) };
}

describe('moving an archive from its folder into a server', () => {
  let embedded: TestDatabases;
  let servers: TestDatabases;
  let from: Archive;
  beforeAll(async () => {
    embedded = await PGLITE!.start(); // both are there
    servers = await POSTGRESQL!.start();
    from = await embedded.open();
    await filled(from, new FileParts(folder()));
  }, PATIENTLY);
  afterAll(async () => {
    await embedded.end();
    await servers.end();
  }, PATIENTLY);

  /** The same archive, in which the transaction of that number fails. */
  const failing = (archive: Archive, at: number): Archive => {
    let transactions = 0;
    return {
      ...archive,
      as: (who, work) => {
        if (++transactions === at) throw new Error('The line broke off.');
        return archive.as(who, work);
      },
    };
  };

  it('goes on where it broke off, wherever that was, and brings every row over as it was', async () => {
    const before = await sums(from);
    const to = await servers.open();
    let broken = 0;
    for (let at = 2; ; at += 7) {
      const tried = await move(from, failing(to, at), () => undefined).catch((error: Error) => error);
      if (!(tried instanceof Error)) {
        expect(tried.before).toBeGreaterThan(0);
        expect(tried.rows).toMatchObject({ attempts: 6, schools: 1, stations: 2 });
        break;
      }
      expect(tried.message).toBe('The line broke off.');
      expect(await isMoving(to)).toBe(true);
      broken += 1;
    }
    expect(broken).toBeGreaterThan(2);
    expect(await isMoving(to)).toBe(false);
    expect(await sums(to)).toEqual(before);
    expect(await sums(from)).toEqual(before);
  });

  it('refuses a database that is not empty, or that another archive is being moved into', async () => {
    const other = await servers.open();
    const to = await servers.open();
    await move(other, failing(to, 4), () => undefined).catch(() => undefined);
    await expect(move(from, to, () => undefined)).rejects.toThrow(/Another archive is being moved/);
    const full = await servers.open();
    await enter(full, { schools: 1, stations: 1, attempts: 1, soundEach: 1 }, played, sounds);
    await expect(move(from, full, () => undefined)).rejects.toThrow(CannotMove);
  });

  it('names the row that differs', async () => {
    const to = await servers.open();
    await move(from, failing(to, 20), () => undefined).catch(() => undefined);
    await to.as({ role: 'keeper' }, (db) => db.updateTable('schools').set({ name: 'Elsewhere' }).execute());
    const moved = move(from, to, () => undefined);
    await expect(moved).rejects.toThrow(`The table schools differs at ${uuidOf('school', 0)}`);
    expect(await isMoving(to)).toBe(true);
  });
});
