import { randomUUID } from 'node:crypto';
import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Archive } from '../../app/archive/store/connection.ts';
import type { Who } from '../../app/archive/store/who.ts';
import { readAcross } from '../../app/archive/views/acrossSchools.ts';
import { attemptsOf } from '../../app/archive/views/attempts.ts';
import { readClass } from '../../app/archive/views/classView.ts';
import { readSchool } from '../../app/archive/views/schoolView.ts';
import { readTrainee } from '../../app/archive/views/traineeView.ts';
import { hardestSteps, readiness } from '../../app/progress/classView.ts';
import { COUNTED, differenceOf } from './countsFromScratch.ts';
import { DATABASES, type TestDatabases } from './databases.ts';
import { makeAccount, makeSchool, madeSents, type MadeSchool } from './takenSchool.ts';

const SKILL = 'hand-washing';
const NOW = '2026-11-30T08:00:00.000Z';

const somebody = (className: string) => ({ person: randomUUID(), class: className });
const people = (n: number, className: string) => Array.from({ length: n }, () => somebody(className));

describe.each(DATABASES)('views on $name', ({ start }) => {
  let databases: TestDatabases;
  let archive: Archive;
  let school: MadeSchool;
  const [first, second] = [people(4, 'First'), people(3, 'Second')];
  let asSchool: Who;

  const classId = async (name: string): Promise<string> => {
    const of = archive.as({ role: 'keeper' }, (db) =>
      db.selectFrom('classes').select('id').where('name', '=', name).executeTakeFirstOrThrow(),
    );
    return (await of).id;
  };
  const outOfStep = (): Promise<unknown[]> =>
    archive.as({ role: 'keeper' }, async (db) => {
      const found = [];
      for (const table of COUNTED) found.push(...(await sql.raw(differenceOf(table)).execute(db)).rows);
      return found;
    });

  beforeAll(async () => {
    databases = await start();
    archive = await databases.open();
    school = await makeSchool(archive, 'One');
    asSchool = {
      role: 'school',
      account: await makeAccount(archive, school.id, 'school'),
      school: school.id,
    };
    const taken = await school.take([
      ...madeSents(first, 4, 0, SKILL),
      ...madeSents(second, 2, 100, SKILL),
      ...madeSents(first, 1, 200, 'radial-pulse'),
    ]);
    expect(taken.refused).toEqual([]);
  }, 240_000);
  afterAll(() => databases.end());

  it('shows a class as the room shows one, from the same attempts', async () => {
    const id = await classId('First');
    const reply = await archive.as(asSchool, (db) => readClass(db, id, { skill: SKILL }));
    const seen = reply ?? expect.fail('no class');
    expect(seen.trainees.map(({ id }) => id).sort()).toEqual(first.map(({ person }) => person).sort());
    const attempts = attemptsOf(seen, (id) => id);
    for (const { person } of first) {
      const whole = await archive.as(asSchool, (db) => readTrainee(db, person, { skill: SKILL }));
      const all = (whole?.attempts ?? []).map((attempt) => ({ ...attempt, trainee: person }));
      expect(all).toHaveLength(4);
      // Two tries are enough to tell what four tell.
      const own = attempts.filter(({ trainee }) => trainee === person);
      expect(own).toHaveLength(2);
      expect(readiness(own, SKILL, NOW)).toEqual(readiness(all, SKILL, NOW));
      expect(own.at(-1)?.steps).toEqual(all.at(-1)?.steps);
    }
  });

  it('counts a school class by class, by the rules of app/progress', async () => {
    const reply = await archive.as(asSchool, (db) => readSchool(db, school.id, { skill: SKILL }, NOW));
    const seen = reply ?? expect.fail('no school');
    expect(seen.classes.map(({ name, people }) => [name, people])).toEqual([
      ['First', 4],
      ['Second', 3],
    ]);
    expect(seen.months.reduce((sum, { attempts }) => sum + attempts, 0)).toBe(4 * 4 + 3 * 2);
    for (const { id, standings, missed } of seen.classes) {
      const one = await archive.as(asSchool, (db) => readClass(db, id, { skill: SKILL }));
      const attempts = attemptsOf(one ?? expect.fail('no class'), (trainee) => trainee);
      const ready = (one?.trainees ?? []).map((trainee) =>
        readiness(
          attempts.filter((a) => a.trainee === trainee.id),
          SKILL,
          NOW,
        ),
      );
      const [standing] = standings;
      expect(standing?.practised).toBe(one?.trainees.length);
      expect(standing?.ready).toBe(ready.filter((each) => each.ready).length);
      expect(standing?.notSteady).toBe(
        ready.filter((each) => !each.ready && each.why === 'not steady').length,
      );
      const hardest = hardestSteps(attempts, SKILL) ?? [];
      const shares = (steps: readonly { step: string; missed: number; of: number }[]) =>
        steps.map(({ step, missed, of }) => `${step} ${missed}/${of}`);
      expect(shares(hardest)).toEqual(expect.arrayContaining(shares(missed)));
      expect(missed).toHaveLength(Math.min(5, hardest.length));
    }
  });

  it('adds up all skills where none is chosen', async () => {
    const reply = await archive.as(asSchool, (db) => readSchool(db, school.id, {}, NOW));
    const [one] = (reply ?? expect.fail('no school')).classes;
    expect(one?.standings.map(({ skill, practised }) => [skill, practised])).toEqual([
      [SKILL, 4],
      ['radial-pulse', 4],
    ]);
    const inMarch = await archive.as(asSchool, (db) =>
      readSchool(db, school.id, { from: '2026-03-01', to: '2026-04-01' }, NOW),
    );
    expect(inMarch?.months.map(({ month }) => month)).toEqual(['2026-03-01']);
  });

  it('shows each only what is theirs', async () => {
    const account = await makeAccount(archive, school.id, 'instructor', [await classId('Second')]);
    const instructor: Who = { role: 'instructor', account, school: school.id };
    const other = await makeSchool(archive, 'Other');
    const stranger: Who = {
      role: 'school',
      account: await makeAccount(archive, other.id, 'school'),
      school: other.id,
    };
    const trainee: Who = {
      role: 'trainee',
      account: randomUUID(),
      school: school.id,
      person: first[0]?.person ?? '',
    };
    const [firstId, secondId] = [await classId('First'), await classId('Second')];
    const rowsFor = async (who: Who): Promise<number[]> => {
      const counts = [];
      for (const table of ['tried', ...COUNTED])
        counts.push(
          await archive
            .as(who, (db) =>
              sql<{ n: number }>`select count(*)::int as n from ${sql.table(table)}`.execute(db),
            )
            .then(
              ({ rows }) => rows[0]?.n ?? -1,
              (error: { code?: string }) => (error.code === '42501' ? 0 : -1),
            ),
        );
      return counts;
    };
    expect(await rowsFor(stranger)).toEqual([0, 0, 0, 0]);
    expect(await rowsFor(trainee)).toEqual([0, 0, 0, 0]);
    expect((await rowsFor(instructor))[0]).toBe(6);
    expect((await rowsFor(asSchool))[0]).toBe(26);
    expect(await archive.as(stranger, (db) => readClass(db, firstId, { skill: SKILL }))).toBeNull();
    expect(await archive.as(instructor, (db) => readClass(db, firstId, { skill: SKILL }))).toBeNull();
    expect(
      (await archive.as(instructor, (db) => readClass(db, secondId, { skill: SKILL })))?.trainees,
    ).toHaveLength(3);
    expect((await archive.as(instructor, (db) => readSchool(db, school.id, {}, NOW)))?.classes).toHaveLength(
      1,
    );
    await expect(archive.as(trainee, (db) => readAcross(db, SKILL))).rejects.toThrow(/permission/);
    // Nobody counts for somebody else: a try must be its attempt's.
    const forged = archive.as(school.station, (db) =>
      sql`update tried set school_id = ${other.id}::uuid`.execute(db),
    );
    await expect(forged).rejects.toThrow(/row-level security/);
  });

  it('keeps all counts in step as attempts go, are judged otherwise, and people are deleted', async () => {
    expect(await outOfStep()).toEqual([]);
    await archive.as({ role: 'keeper' }, async (db) => {
      await sql`delete from attempts where id in (select id from attempts order by id limit 3)`.execute(db);
      await sql`update tried set passed = not passed, marks = translate(marks, 'yn', 'ny') where attempt_id % 2 = 0`.execute(
        db,
      );
      await db
        .deleteFrom('people')
        .where('id', '=', second[0]?.person ?? '')
        .execute();
    });
    expect(await outOfStep()).toEqual([]);
    const { rows } = await archive.as({ role: 'keeper' }, (db) =>
      sql`select * from skill_months where attempts = 0`.execute(db),
    );
    expect(rows).toEqual([]);
  });

  it('shows across schools only groups that tell of nobody', async () => {
    const skill = 'respirations';
    const schools = await Promise.all(['A', 'B', 'C'].map((name) => makeSchool(archive, name)));
    const [a, b, c] = schools as [MadeSchool, MadeSchool, MadeSchool]; // Three were made.
    const seenBy = async ({ id }: MadeSchool): Promise<number> => {
      const who: Who = { role: 'school', account: randomUUID(), school: id };
      return (await archive.as(who, (db) => readAcross(db, skill))).hardest.length;
    };
    let made = 1000;
    const add = async (to: MadeSchool, n: number): Promise<void> => {
      await to.take(madeSents(people(n, 'K'), 1, (made += 100), skill));
    };
    await add(a, 9);
    expect(await seenBy(c)).toBe(0);
    // Ten people, all of one school: it would be that school's own figure.
    await add(a, 3);
    expect(await seenBy(c)).toBe(0);
    await add(b, 2);
    expect(await seenBy(c)).toBeGreaterThan(0);
    // Without their own, A would be left with the two of B, and B with those of A alone.
    expect(await seenBy(a)).toBe(0);
    expect(await seenBy(b)).toBe(0);
    await add(c, 9);
    expect(await seenBy(a)).toBeGreaterThan(0);
    const { hardest, agreement } = await archive.as(
      { role: 'school', account: randomUUID(), school: a.id },
      (db) => readAcross(db, skill),
    );
    for (const { missed, people } of hardest) {
      expect(missed % 5).toBe(0);
      expect(people % 10).toBe(0);
    }
    expect(agreement).toEqual([]);
  });
});
