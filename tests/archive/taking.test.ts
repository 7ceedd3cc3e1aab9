import { readdir } from 'node:fs/promises';
import { sql } from 'kysely';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { FileParts } from '../../app/archive/parts/fileParts.ts';
import type { Archive, Seen } from '../../app/archive/store/connection.ts';
import { OUTCOMES } from '../../app/archive/store/tables.ts';
import {
  deleteAttempts,
  deleteExpired,
  deleting,
  noteGone,
  toDelete,
} from '../../app/archive/taking/deletions.ts';
import { addReview } from '../../app/archive/taking/review.ts';
import { StationRevoked, takeIn, type Taking } from '../../app/archive/taking/takeIn.ts';
import type { AttemptToCarry } from '../../app/bundle/write.ts';
import { SHIPPED_SKILLS } from '../../app/library/library.ts';
import { narrate, shipped } from '../rehearsal/making/narrate.ts';
import { DATABASES, type TestDatabases } from './databases.ts';
import {
  attempt,
  bundle,
  journal,
  LINES,
  linesOf,
  person,
  record,
  sha256,
  startOf,
  verdict,
} from './made.ts';
import { NORTH, SAM, station, stationOf, twoSchools, type Someone, type TwoSchools } from './twoSchools.ts';
import { readFile } from 'node:fs/promises';
import path from 'node:path';

const DEE = person(31, 'Dee', 'Evening');

describe.each(DATABASES)('taking in on $name', ({ start }) => {
  let databases: TestDatabases;
  let archive: Archive;
  let schools: TwoSchools;
  let taking: Taking;
  let sink: Someone;
  /** The second of the day at which the next attempt begins: each test has its own. */
  let second = 1000;

  beforeAll(async () => {
    databases = await start();
    archive = await databases.open();
    schools = await twoSchools(archive);
    taking = schools;
  });
  afterAll(async () => {
    await databases.end();
    await schools.end();
  });
  beforeEach(async () => {
    sink = await station(archive, NORTH, 'Sink');
  });
  afterEach(() => void (second += 100));

  const keeper = <T>(work: (db: Seen) => Promise<T>): Promise<T> => archive.as({ role: 'keeper' }, work);
  const send = async (attempts: readonly AttemptToCarry[], at = sink) =>
    takeIn(taking, stationOf(at), await bundle(schools.folder, attempts));
  const rowsOf = (at = sink) =>
    keeper((db) =>
      db
        .selectFrom('attempts')
        .innerJoin('journals', 'attempt_id', 'id')
        .selectAll()
        .where('station_id', '=', stationOf(at).station)
        .orderBy('record')
        .execute(),
    );
  const none = { taken: [], already: [], replaced: [], refused: [] };

  it('writes an attempt as the program itself marks it', async () => {
    const text =
      journal(DEE.id, startOf(second)) + linesOf([verdict('wet', 'yes'), verdict('soap', 'unsure')]);
    expect(await send([attempt(second, DEE, { text })])).toEqual({ ...none, taken: [record(second)] });
    const [row, ...others] = await rowsOf();
    expect(others).toEqual([]);
    const { marks } = narrate(shipped('hand-washing'), LINES);
    expect(row).toMatchObject({
      school_id: NORTH,
      person_id: DEE.id,
      skill: 'hand-washing',
      version: 1,
      started_at: new Date(startOf(second)),
      seconds: 60,
      passed: marks.result.passed,
      heard: marks.result.heard,
      of: marks.result.of,
      critical_missed: marks.result.criticalMissed.length,
      signed_off: false,
      agreed_to_sound: true,
    });
    const written = await keeper((db) =>
      db
        .selectFrom('marks')
        .innerJoin('steps', 'steps.id', 'step_id')
        .select(['step', 'outcome', 'critical', 'credited'])
        .where('attempt_id', '=', row?.id ?? '')
        .execute(),
    );
    expect(Object.fromEntries(written.map(({ step, outcome }) => [step, OUTCOMES[outcome]]))).toEqual(
      Object.fromEntries(marks.steps.map(({ id, outcome }) => [id, outcome])),
    );
    const heard = written.filter(({ outcome }) => OUTCOMES[outcome] === 'heard');
    expect(heard.length).toBeGreaterThan(0);
    expect(heard.every(({ credited }) => credited)).toBe(true);
    const verdicts = await keeper((db) =>
      db
        .selectFrom('reviews')
        .innerJoin('steps', 'steps.id', 'step_id')
        .select(['step', 'verdict', 'by'])
        .where('attempt_id', '=', row?.id ?? '')
        .orderBy('step')
        .execute(),
    );
    expect(verdicts).toEqual([
      { step: 'soap', verdict: null, by: 'R. Ortega' },
      { step: 'wet', verdict: true, by: 'R. Ortega' },
    ]);
  });

  it('takes the same once, however often and in whatever order it comes', async () => {
    const [one, two] = [attempt(second, DEE), attempt(second + 1, DEE)];
    expect(await send([two])).toMatchObject({ taken: [record(second + 1)] });
    expect(await send([one, two])).toEqual({
      ...none,
      taken: [record(second)],
      already: [record(second + 1)],
    });
    expect(await send([two, one])).toMatchObject({
      taken: [],
      already: [record(second), record(second + 1)].reverse(),
    });
    expect(await rowsOf()).toHaveLength(2);
  });

  it('takes the same once where it comes many times at once', async () => {
    const all = [attempt(second, DEE, { sound: 'at once' }), attempt(second + 1, DEE)];
    const answers = await Promise.all(Array.from({ length: 6 }, () => send(all)));
    expect(answers.flatMap(({ taken }) => taken).sort()).toEqual([record(second), record(second + 1)]);
    expect(answers.flatMap(({ already }) => already)).toHaveLength(10);
    expect(await rowsOf()).toHaveLength(2);
  });

  it('takes all where stations meet over the same new classes and people', async () => {
    const sinks = await Promise.all([1, 2, 3, 4].map((n) => station(archive, NORTH, `Sink ${n} of many`)));
    const people = [51, 52, 53, 54].map((n) => person(n, `P${n}`, `Class ${n}`));
    const answers = await Promise.all(
      sinks.map((at, n) => {
        // Each in another order, so that they wait for each other in a circle.
        const turned = [...people.slice(n), ...people.slice(0, n)];
        return send(
          turned.map((each, i) => attempt(second + 10 * n + i, each)),
          at,
        );
      }),
    );
    expect(answers.map(({ taken }) => taken.length)).toEqual([4, 4, 4, 4]);
    const classes = await keeper((db) =>
      db.selectFrom('classes').select('name').where('name', 'like', 'Class 5_').execute(),
    );
    expect(classes).toHaveLength(4);
  });

  it('puts more of a journal in the place of less, and not the other way round', async () => {
    const whole = journal(DEE.id, startOf(second));
    const lines = whole.split('\n');
    const half = `${lines.slice(0, 4).join('\n')}\n`;
    await send([attempt(second, DEE, { text: half, sound: 'half' })]);
    const more = attempt(second, DEE, { text: whole, sound: 'the whole sound' });
    expect(await send([more])).toEqual({ ...none, replaced: [record(second)] });
    expect(await send([attempt(second, DEE, { text: half, sound: 'half' })])).toMatchObject({
      already: [record(second)],
    });
    const [row] = await rowsOf();
    expect(row).toMatchObject({ events: whole, seconds: 60 });
    const sounds = await keeper((db) =>
      db
        .selectFrom('attempt_parts')
        .select('sha256')
        .where('attempt_id', '=', row?.id ?? '')
        .execute(),
    );
    expect(sounds).toEqual([{ sha256: sha256('the whole sound') }]);
    expect(await taking.parts.has(sha256('half'))).toBe(false);
  });

  it('joins what was said of it here and at the station', async () => {
    const text = journal(DEE.id, startOf(second));
    await send([attempt(second, DEE, { text })]);
    const id = (await rowsOf())[0]?.id ?? '';
    const said = await archive.as(schools.school.who, (db) =>
      addReview(db, taking.libraries, NORTH, id, [verdict('wet', 'no', 2)]),
    );
    expect(said).toBe(true);
    const there = text + linesOf([verdict('wet', 'yes', 1), verdict('soap', 'yes', 3)]);
    expect(await send([attempt(second, DEE, { text: there })])).toMatchObject({ replaced: [record(second)] });
    const verdicts = await keeper((db) =>
      db
        .selectFrom('reviews')
        .innerJoin('steps', 'id', 'step_id')
        .select(['step', 'verdict'])
        .where('attempt_id', '=', id)
        .orderBy('step')
        .execute(),
    );
    expect(verdicts).toEqual([
      { step: 'soap', verdict: true },
      { step: 'wet', verdict: false },
    ]);
  });

  it('refuses another rehearsal under the same name, a journal without a header, and a stranger’s id; takes the rest', async () => {
    await send([attempt(second, DEE)]);
    const other = journal(DEE.id, startOf(second), ['Something else entirely.']);
    const torn = journal(DEE.id, startOf(second + 1))
      .split('\n')
      .slice(1)
      .join('\n');
    const answer = await send([
      attempt(second, DEE, { text: other }),
      attempt(second + 1, DEE, { text: torn }),
      attempt(second + 2, SAM),
      attempt(second + 3, DEE),
    ]);
    expect(answer).toEqual({
      ...none,
      taken: [record(second + 3)],
      refused: [
        { record: record(second), why: expect.stringMatching(/another rehearsal/) },
        { record: record(second + 1), why: expect.stringMatching(/no header/) },
        { record: record(second + 2), why: expect.stringMatching(/somebody else/) },
      ],
    });
    expect((await rowsOf()).map((row) => row.record)).toEqual([record(second), record(second + 3)]);
  });

  it('keeps no sound of who has not agreed, and none twice', async () => {
    const eve = person(32, 'Eve', 'Evening', false);
    await send([attempt(second, eve, { sound: 'not agreed' })]);
    expect(await taking.parts.has(sha256('not agreed'))).toBe(false);
    await send([
      attempt(second + 1, DEE, { sound: 'shared' }),
      attempt(second + 2, DEE, { sound: 'shared' }),
    ]);
    const parts = await keeper((db) =>
      db.selectFrom('attempt_parts').select('attempt_id').where('sha256', '=', sha256('shared')).execute(),
    );
    expect(parts).toHaveLength(2);
    const [first, last] = parts;
    const drop = (id: string): Promise<void> =>
      deleting(archive, taking.parts, schools.school.who, (db) => deleteAttempts(db, [id]));
    await drop(first?.attempt_id ?? '');
    expect(await taking.parts.has(sha256('shared'))).toBe(true);
    await drop(last?.attempt_id ?? '');
    expect(await taking.parts.has(sha256('shared'))).toBe(false);
  });

  it('does not take again what was deleted, and tells its station and those that have a copy', async () => {
    const copy = await station(archive, NORTH, 'Sink with a copy');
    const one = attempt(second, DEE);
    await send([one]);
    expect(await send([one], copy)).toMatchObject({ already: [record(second)] });
    const id = (await rowsOf())[0]?.id ?? '';
    await deleting(archive, taking.parts, schools.school.who, (db) => deleteAttempts(db, [id]));
    expect(await rowsOf()).toEqual([]);
    for (const at of [sink, copy]) {
      const told = await archive.as(at.who, (db) => toDelete(db, stationOf(at).station));
      expect(told.map((each) => each.record)).toEqual([record(second)]);
      expect(await send([one], at)).toMatchObject({ refused: [{ record: record(second) }] });
      await noteGone(archive, taking.parts, stationOf(at), [
        { record: record(second), at: startOf(second + 50) },
      ]);
      expect(await archive.as(at.who, (db) => toDelete(db, stationOf(at).station))).toEqual([]);
    }
  });

  it('deletes what is deleted at the station, and does not take it again', async () => {
    const one = attempt(second, DEE, { sound: 'gone' });
    await send([one]);
    await noteGone(archive, taking.parts, stationOf(sink), [
      { record: record(second), at: startOf(second + 50) },
    ]);
    expect(await rowsOf()).toEqual([]);
    expect(await taking.parts.has(sha256('gone'))).toBe(false);
    expect(await send([one])).toMatchObject({ refused: [{ record: record(second) }] });
  });

  it('deletes what need not be kept any longer', async () => {
    await send([attempt(second, DEE, { keepUntil: '2026-12-01T00:00:00.000Z' }), attempt(second + 1, DEE)]);
    expect(await deleteExpired(archive, taking.parts, new Date('2026-11-30T23:59:59Z'))).toBe(0);
    expect(await deleteExpired(archive, taking.parts, new Date('2026-12-01T00:00:00Z'))).toBe(1);
    expect((await rowsOf()).map((row) => row.record)).toEqual([record(second + 1)]);
  });

  it('takes nothing of a bundle in which something fails, and nothing of a revoked station', async () => {
    const failing = new FileParts(path.join(schools.folder, 'parts'));
    failing.put = (sha) =>
      sha === sha256('fails') ? Promise.reject(new Error('no room')) : Promise.resolve();
    const all = [attempt(second, DEE), attempt(second + 1, DEE, { sound: 'fails' })];
    const sent = takeIn({ ...taking, parts: failing }, stationOf(sink), await bundle(schools.folder, all));
    await expect(sent).rejects.toThrow('no room');
    expect(await rowsOf()).toEqual([]);
    await archive.as(schools.school.who, (db) =>
      db
        .updateTable('stations')
        .set({ revoked_at: new Date() })
        .where('id', '=', stationOf(sink).station)
        .execute(),
    );
    await expect(send(all)).rejects.toThrow(StationRevoked);
  });

  it('marks a school’s own skill by its own text, and another school’s by the program’s', async () => {
    const source = (await readFile(path.join(SHIPPED_SKILLS, 'hand-washing.yaml'), 'utf8'))
      .replace(/^title:/m, 'version: 7\nchange: Ours\ntitle:')
      .replace(/^(\s+- id: soap\n\s+text: ).*$/m, '$1Takes our own soap');
    expect(source).toContain('our own soap');
    const text = journal(DEE.id, startOf(second)).replace('"version":1', '"version":7');
    const own = { id: 'hand-washing', version: 7, source, slots: {} };
    await takeIn(
      taking,
      stationOf(sink),
      await bundle(schools.folder, [attempt(second, DEE, { text })], [own]),
    );
    const [row] = await rowsOf();
    expect(row?.version).toBe(7);
    const texts = await keeper((db) =>
      db
        .selectFrom('marks')
        .innerJoin('steps', 'id', 'step_id')
        .select(['text', 'school_id'])
        .where('attempt_id', '=', row?.id ?? '')
        .where('step', '=', 'soap')
        .execute(),
    );
    expect(texts).toEqual([{ text: 'Takes our own soap', school_id: NORTH }]);
    const elsewhere = journal(SAM.id, startOf(second + 1)).replace('"version":1', '"version":7');
    await send([attempt(second + 1, SAM, { text: elsewhere })], schools.others.station);
    const rows = await rowsOf(schools.others.station);
    expect(rows.at(-1)?.version).toBe(1);
  });

  it('costs the same whatever is there: no table is read through', async () => {
    if (archive.kind === 'embedded') return;
    // Small tables are read through whatever the index: the planner is told not to where it can do otherwise.
    const scans = await archive.as(sink.who, async (db) => {
      await sql`set local enable_seqscan = off`.execute(db);
      const plans = [
        sql`explain select id from attempts where station_id = ${stationOf(sink).station}::uuid and record = ${record(second)}`,
        sql`explain select id from people where id = ${DEE.id}::uuid`,
        sql`explain select record from deletions where station_id = ${stationOf(sink).station}::uuid and record = ${record(second)}`,
        sql`explain select id, step from steps where school_id is null and skill = 'hand-washing' and version = 1`,
        sql`explain delete from marks where attempt_id = 1`,
        sql`explain delete from reviews where attempt_id = 1`,
      ];
      const found: string[] = [];
      for (const plan of plans)
        found.push(...(await plan.execute(db)).rows.map((row) => Object.values(row as object).join()));
      return found.filter((line) => line.includes('Seq Scan'));
    });
    expect(scans).toEqual([]);
  });

  it('leaves no files of its own behind', async () => {
    const names = await readdir(path.join(schools.folder, 'parts'), { recursive: true });
    expect(names.filter((name) => name.includes('.new'))).toEqual([]);
  });
});
