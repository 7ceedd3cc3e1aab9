import { randomUUID } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Archive } from '../../app/archive/store/connection.ts';
import { SchoolLibraries } from '../../app/archive/taking/schoolLibrary.ts';
import { addReview } from '../../app/archive/taking/review.ts';
import { progressOf } from '../../app/archive/work/progress.ts';
import { putMarking } from '../../app/archive/work/putting.ts';
import { Queue } from '../../app/archive/work/queue.ts';
import { work } from '../../app/archive/work/worker.ts';
import { SHIPPED_SKILLS } from '../../app/library/library.ts';
import { DATABASES, type TestDatabases } from './databases.ts';
import { makeAccount, makeSchool, madeSents, programs, type MadeSchool } from './takenSchool.ts';

const SKILL = 'hand-washing';
const ASKED = { skill: SKILL, version: 2, markedBy: 'test', atATime: 10 };

describe.each(DATABASES)('work on $name', ({ start }) => {
  let databases: TestDatabases;
  let archive: Archive;
  let queue: Queue;
  let school: MadeSchool;
  const libraries = new SchoolLibraries(programs);
  const people = [1, 2].map(() => ({ person: randomUUID(), class: 'First' }));

  const workUntilEmpty = (worker: string) =>
    work({ archive, libraries, worker }, queue, {
      untilEmpty: true,
      signal: new AbortController().signal,
      tell: (text) => expect.fail(text),
    });
  const asKeeper = <T>(text: string): Promise<T[]> =>
    archive.as({ role: 'keeper' }, (db) =>
      sql
        .raw<T>(text)
        .execute(db)
        .then(({ rows }) => rows),
    );

  beforeAll(async () => {
    databases = await start();
    archive = await databases.open();
    school = await makeSchool(archive, 'One');
    await school.take(madeSents(people, 8, 0, SKILL));
    // The school's own second version leaves a step out.
    const source = await readFile(path.join(SHIPPED_SKILLS, `${SKILL}.yaml`), 'utf8');
    const second = source
      .replace(/^id: .*$/m, '$&\nversion: 2\nchange: Greeting is left out.')
      .replace('  - use: greet\n', '');
    expect(second).not.toContain('use: greet\n');
    await archive.as({ role: 'keeper' }, (db) =>
      db
        .insertInto('skills')
        .values({ school_id: school.id, skill: SKILL, version: 2, sha256: 'a'.repeat(64), source: second })
        .execute(),
    );
    queue = await Queue.open(archive, false, (message) => expect.fail(message));
  }, 240_000);
  afterAll(async () => {
    await queue.close();
    await databases.end();
  });

  it('marks each attempt again once, whoever asks and however often, and leaves what persons said', async () => {
    const account = await makeAccount(archive, school.id, 'school');
    const [first] = await asKeeper<{ id: string }>('select id::text from attempts order by id limit 1');
    const reviewed = first?.id ?? '';
    await archive.as({ role: 'school', account, school: school.id }, (db) =>
      addReview(db, libraries, school.id, reviewed, [
        {
          type: 'reviewed',
          by: 'R. Ortega',
          madeAt: '2026-11-30T09:00:00.000Z',
          skill: 0,
          step: 'wet',
          verdict: 'no',
          reason: '',
          heardAt: null,
          blind: true,
        },
      ]),
    );
    const { attempts } = await putMarking(archive, queue, ASKED);
    expect(attempts).toBe(16);
    expect((await putMarking(archive, queue, ASKED)).attempts).toBe(0);
    const [one, other] = await Promise.all([workUntilEmpty('one'), workUntilEmpty('other')]);
    expect(one.changed + one.same + other.changed + other.same).toBe(16);
    expect(await asKeeper('select distinct version, again from attempts')).toEqual([
      { version: 2, again: true },
    ]);
    expect(await asKeeper('select distinct version from tried')).toEqual([{ version: 2 }]);
    const steps = await asKeeper<{ n: number }>(
      `select count(*)::int as n from marks m join steps s on s.id = m.step_id where s.version <> 2 or s.step = 'greet'`,
    );
    expect(steps).toEqual([{ n: 0 }]);
    expect(await asKeeper('select verdict, step from reviews join steps on steps.id = step_id')).toEqual([
      { verdict: false, step: 'wet' },
    ]);
    const [tried] = await asKeeper<{ findings: string }>(
      'select findings from tried where findings is not null',
    );
    expect(tried?.findings).toMatch(/^-*[fd]-*$/);
    const [progress] = await progressOf(archive);
    expect(progress).toMatchObject({ of: 16, done: 16, leftOut: 0, secondsLeft: null });
  });

  it('gives the job of a killed worker to another, which marks the rest of it', async () => {
    const asked = { ...ASKED, markedBy: 'another program' };
    const { marking } = await putMarking(archive, queue, asked);
    const job = (await queue.take()) ?? expect.fail('no job');
    expect(job.marking).toBe(marking);
    // It is killed here; nobody else gets the job until it was held too long.
    await queue.giveLostToOthers();
    const other = (await queue.take()) ?? expect.fail('no other job');
    expect(other.id).not.toBe(job.id);
    expect(await queue.take()).toBeNull();
    await queue.giveBack(other.id, 'only looked at');
    await sql`update pgboss.job set started_on = started_on - interval '2 minutes'`.execute(archive.db);
    await queue.giveLostToOthers();
    const done = await workUntilEmpty('second');
    expect(done.changed + done.same).toBe(16);
    expect(await queue.open()).toBe(0);
  });

  it('keeps the version that an attempt was marked again under when its journal goes on', async () => {
    await school.take(madeSents(people.slice(0, 1), 1, 900, SKILL));
    const versions = await asKeeper<{ version: number }>(
      'select version from attempts order by id desc limit 1',
    );
    expect(versions).toEqual([{ version: 1 }]);
    expect((await putMarking(archive, queue, ASKED)).attempts).toBe(1);
    await workUntilEmpty('third');
    const account = await makeAccount(archive, school.id, 'school');
    const [last] = await asKeeper<{ id: string }>('select id::text from attempts order by id desc limit 1');
    const signed = {
      type: 'signed off',
      by: 'R. Ortega',
      madeAt: '2026-11-30T10:00:00.000Z',
      skill: 0,
    } as const;
    await archive.as({ role: 'school', account, school: school.id }, (db) =>
      addReview(db, libraries, school.id, last?.id ?? '', [signed]),
    );
    expect(await asKeeper('select version from tried order by attempt_id desc limit 1')).toEqual([
      { version: 2 },
    ]);
  });

  it('says of what cannot be marked why', async () => {
    await putMarking(archive, queue, { ...ASKED, version: 9 });
    const done = await workUntilEmpty('fourth');
    expect(done['left out']).toBe(17);
    const [note] = await asKeeper<{ why: string }>(`select distinct why from marked_again where why <> ''`);
    expect(note?.why).toBe(`There is no version 9 of the skill "${SKILL}".`);
    expect(await asKeeper('select distinct version from attempts')).toEqual([{ version: 2 }]);
  });
});
