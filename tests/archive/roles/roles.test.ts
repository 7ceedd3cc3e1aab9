import { randomUUID } from 'node:crypto';
import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { hashOf } from '../../../app/archive/serving/secrets.ts';
import type { Archive, Seen } from '../../../app/archive/store/connection.ts';
import type { Role, Who } from '../../../app/archive/store/who.ts';
import { DATABASES, type TestDatabases } from '../databases.ts';
import { record, uuid } from '../made.ts';
import { reachOf, tablesOf, type Count } from './roleTable.ts';
import { ANN, BEN, NORTH, SAM, SOUTH, twoSchools, type TwoSchools } from '../twoSchools.ts';

/** In this order stand the columns of {@link EXPECTED}. */
const ROLES = [
  'trainee',
  'instructor',
  'school',
  'station',
  'door',
  'worker',
  'keeper',
] as const satisfies readonly Role[];

/**
 * By hand, of the two schools (see `twoSchools`): rows that each role sees/changes/deletes. North's: Ann is the trainee, the instructor has
 * her class, the station is the first sink. Whoever stands at the door shows Ann's token. Of skills and steps the school's own are counted,
 * of marks and of counts by step attempts.
 */
const EXPECTED: Readonly<Record<string, string>> = {
  account_classes: '-/-/-  1/-/-  1/-/1  -/-/-  -/-/-  -/-/-  2/2/2',
  accounts: '       1/-/-  2/1/-  3/3/-  -/-/-  1/-/-  -/-/-  6/6/6',
  attempt_parts: '  1/-/-  1/-/-  3/-/-  2/2/2  -/-/-  4/-/-  4/4/4',
  attempts: '       1/-/-  1/1/1  3/3/3  2/2/2  -/-/-  4/4/-  4/4/4',
  audit_log: '      -/-/-  -/-/-  2/-/-  -/-/-  -/-/-  -/-/-  3/-/-',
  classes: '        1/-/-  1/-/-  2/2/-  2/-/-  -/-/-  -/-/-  3/3/held',
  copies: '         -/-/-  -/-/-  -/-/-  0/0/0  -/-/-  -/-/-  1/1/1',
  deletions: '      -/-/-  1/-/-  1/-/-  1/1/-  -/-/-  -/-/-  2/2/2',
  enrolments: '     -/-/-  3/-/3  3/-/3  -/-/-  0/0/-  -/-/-  5/5/5',
  journals: '       1/-/-  1/1/-  3/3/-  2/2/2  -/-/-  4/-/-  4/4/4',
  marked_again: '   -/-/-  -/-/-  -/-/-  -/-/-  -/-/-  0/0/0  0/0/0',
  markings: '       -/-/-  -/-/-  -/-/-  -/-/-  -/-/-  0/0/0  0/0/0',
  marks: '          1/-/-  1/-/-  3/-/-  2/2/2  -/-/-  4/4/4  4/4/4',
  parts: '          1/-/-  1/-/-  3/-/-  -/-/-  -/-/-  4/-/-  4/4/held',
  people: '         1/-/-  1/1/1  3/3/3  3/-/-  -/-/-  -/-/-  4/4/4',
  reviews: '        -/-/-  1/1/1  3/3/3  2/2/2  -/-/-  4/4/4  4/4/4',
  schools: '        1/-/-  1/-/-  1/-/-  1/-/-  -/-/-  -/-/-  2/2/held',
  skill_months: '   -/-/-  1/-/-  3/-/-  -/-/-  -/-/-  -/-/-  4/4/4',
  skills: '         1/-/-  1/-/-  1/-/-  1/-/-  -/-/-  2/-/-  2/2/2',
  standings: '      -/-/-  1/-/-  3/-/-  -/-/-  -/-/-  -/-/-  4/4/4',
  stations: '       -/-/-  2/2/-  2/2/-  1/1/-  0/-/-  -/-/-  3/3/held',
  step_months: '    -/-/-  1/-/-  3/-/-  -/-/-  -/-/-  -/-/-  4/4/4',
  steps: '          1/-/-  1/-/-  1/-/-  1/-/-  -/-/-  2/-/-  2/2/held',
  tried: '          -/-/-  1/1/1  3/3/3  2/2/2  -/-/-  4/4/4  4/4/4',
};

const OWN_STEP = { skill: 'our-own-skill', version: 1, step: 'one', text: 'Does it', critical: false };

type Intrusion = readonly [
  role: Role | 'station of the other school',
  what: string,
  intrude: (db: Seen, schools: TwoSchools) => Promise<unknown>,
];

const attemptRow = (schools: TwoSchools) => ({
  school_id: NORTH,
  station_id: stationId(schools),
  record: record(500),
  sha256: 'a'.repeat(64),
  skill: 'hand-washing',
  started_at: new Date(0),
  seconds: 1,
  engine: 'made',
  heard: 0,
  of: 0,
  critical_missed: 0,
  marked_by: 'made',
  agreed_to_sound: false,
});
const stationId = ({ station: { who } }: TwoSchools): string => (who.role === 'station' ? who.station : '');
const otherStationId = (schools: TwoSchools): string =>
  stationId({ ...schools, station: schools.others.station });
const accountRow = (
  role: 'trainee' | 'instructor' | 'school',
  person_id: string | null,
  school_id = NORTH,
) => ({
  id: randomUUID(),
  school_id,
  role,
  name: 'Intruder',
  person_id,
  token_sha256: hashOf(randomUUID()),
});
const logRow = (school_id: string | null) => ({ school_id, who: 'nobody', did: 'nothing', what: '' });
const reviewRow = (attempt_id: string) => ({
  attempt_id,
  place: 0,
  step_id: 1,
  verdict: true,
  by: 'x',
  made_at: new Date(0),
});

/** What must not be possible, each by a row that would be somebody else's. */
const INTRUSIONS: readonly Intrusion[] = [
  [
    'station',
    'an attempt to another school',
    (db, s) =>
      db
        .insertInto('attempts')
        .values({ ...attemptRow(s), school_id: SOUTH })
        .execute(),
  ],
  [
    'station',
    'an attempt of another station',
    (db, s) =>
      db
        .insertInto('attempts')
        .values({ ...attemptRow(s), station_id: otherStationId(s) })
        .execute(),
  ],
  [
    'station',
    'an attempt of another school’s person',
    (db, s) =>
      db
        .insertInto('attempts')
        .values({ ...attemptRow(s), person_id: SAM.id })
        .execute(),
  ],
  [
    'station of the other school',
    'an attempt of our person',
    (db, s) =>
      db
        .insertInto('attempts')
        .values({ ...attemptRow(s), school_id: SOUTH, station_id: otherStationId(s), person_id: ANN.id })
        .execute(),
  ],
  [
    'station',
    'a person into another school',
    (db) =>
      db
        .insertInto('people')
        .values({ id: uuid(90), school_id: SOUTH, class_id: null, name: 'X' })
        .execute(),
  ],
  [
    'station',
    'a class into another school',
    (db) =>
      db
        .insertInto('classes')
        .values({ id: uuid(91), school_id: SOUTH, name: 'X' })
        .execute(),
  ],
  [
    'station',
    'a skill of the program’s',
    (db) =>
      db
        .insertInto('skills')
        .values({ skill: 'x', version: 1, sha256: 'a'.repeat(64), source: '' })
        .execute(),
  ],
  [
    'station',
    'a step of the program’s',
    (db) =>
      db
        .insertInto('steps')
        .values({ ...OWN_STEP, step: 'two' })
        .execute(),
  ],
  [
    'station',
    'a deletion of another station’s',
    (db, s) =>
      db
        .insertInto('deletions')
        .values({ station_id: otherStationId(s), record: record(1) })
        .execute(),
  ],
  [
    'station',
    'into another school’s log',
    (db) => db.insertInto('audit_log').values(logRow(SOUTH)).execute(),
  ],
  ['station', 'the key of a station', (db) => db.updateTable('stations').set({ key_sha256: 'x' }).execute()],
  [
    'trainee',
    'a review of their own attempt',
    (db, s) => db.insertInto('reviews').values(reviewRow(s.attempts.ann)).execute(),
  ],
  ['trainee', 'an account', (db) => db.insertInto('accounts').values(accountRow('school', null)).execute()],
  [
    'trainee',
    'into another school’s log',
    (db) => db.insertInto('audit_log').values(logRow(SOUTH)).execute(),
  ],
  [
    'instructor',
    'a review of another class’s attempt',
    (db, s) => db.insertInto('reviews').values(reviewRow(s.attempts.ben)).execute(),
  ],
  [
    'instructor',
    'a mark',
    (db, s) =>
      db
        .insertInto('marks')
        .values({ attempt_id: s.attempts.ann, place: 0, step_id: 1, outcome: 0, credited: true })
        .execute(),
  ],
  [
    'instructor',
    'an account of a school',
    (db) => db.insertInto('accounts').values(accountRow('school', null)).execute(),
  ],
  [
    'instructor',
    'an account of an instructor',
    (db) => db.insertInto('accounts').values(accountRow('instructor', null)).execute(),
  ],
  [
    'instructor',
    'an account for another class’s trainee',
    (db) => db.insertInto('accounts').values(accountRow('trainee', BEN.id)).execute(),
  ],
  [
    'instructor',
    'themselves another class',
    (db, s) =>
      db
        .insertInto('account_classes')
        .values({
          account_id: s.instructor.who.role === 'instructor' ? s.instructor.who.account : '',
          class_id: uuid(1),
        })
        .execute(),
  ],
  [
    'instructor',
    'a code for another school',
    (db) =>
      db
        .insertInto('enrolments')
        .values({ code_sha256: 'x', school_id: SOUTH, station_name: 'X', ends_at: new Date() })
        .execute(),
  ],
  [
    'instructor',
    'a deletion for another school’s station',
    (db, s) =>
      db
        .insertInto('deletions')
        .values({ station_id: otherStationId(s), record: record(1) })
        .execute(),
  ],
  [
    'school',
    'an account of another school',
    (db) =>
      db
        .insertInto('accounts')
        .values(accountRow('school', null, SOUTH))
        .execute(),
  ],
  [
    'school',
    'an account for another school’s person',
    (db) => db.insertInto('accounts').values(accountRow('trainee', SAM.id)).execute(),
  ],
  [
    'school',
    'a class into another school',
    (db) =>
      db
        .insertInto('classes')
        .values({ id: uuid(92), school_id: SOUTH, name: 'X' })
        .execute(),
  ],
  [
    'school',
    'what a machine marked',
    (db, s) => db.updateTable('attempts').set({ passed: true }).where('id', '=', s.attempts.ann).execute(),
  ],
  [
    'school',
    'what was heard',
    (db, s) =>
      db.updateTable('journals').set({ events: '' }).where('attempt_id', '=', s.attempts.ann).execute(),
  ],
  [
    'door',
    'a station without a code',
    (db) =>
      db
        .insertInto('stations')
        .values({ id: uuid(93), school_id: NORTH, name: 'X', key_sha256: 'x' })
        .execute(),
  ],
  ['worker', 'into a school’s log', (db) => db.insertInto('audit_log').values(logRow(NORTH)).execute()],
  ['worker', 'whose an attempt is', (db) => db.updateTable('attempts').set({ person_id: SAM.id }).execute()],
  ['keeper', 'over the log', (db) => db.updateTable('audit_log').set({ did: 'nothing' }).execute()],
  ['keeper', 'an end to the log', (db) => db.deleteFrom('audit_log').execute()],
  ['keeper', 'an end to the whole log', (db) => sql`truncate audit_log`.execute(db)],
];

describe.each(DATABASES)('who sees and changes what on $name', ({ start }) => {
  let databases: TestDatabases;
  let archive: Archive;
  let schools: TwoSchools;
  let who: Readonly<Record<Role, Who>>;
  /** Rows of skills and steps that are the program's, and rows that one attempt makes. */
  let apart: Readonly<Record<string, { readonly less: number; readonly each: number }>>;

  beforeAll(async () => {
    databases = await start();
    archive = await databases.open();
    schools = await twoSchools(archive);
    await keeper((db) =>
      db
        .insertInto('steps')
        .values([NORTH, SOUTH].map((school_id) => ({ ...OWN_STEP, school_id })))
        .execute(),
    );
    who = {
      trainee: schools.trainee.who,
      instructor: schools.instructor.who,
      school: schools.school.who,
      station: schools.station.who,
      door: { role: 'door', secretSha256: hashOf(schools.trainee.token) },
      worker: { role: 'worker' },
      keeper: { role: 'keeper' },
    };
    const count = async (table: 'skills' | 'steps' | 'marks' | 'step_months'): Promise<number> => {
      const query = keeper((db) =>
        sql<{ n: number }>`select count(*)::int as n from ${sql.table(table)}`.execute(db),
      );
      return (await query).rows[0]?.n ?? 0;
    };
    apart = {
      skills: { less: (await count('skills')) - 2, each: 1 },
      steps: { less: (await count('steps')) - 2, each: 1 },
      marks: { less: 0, each: (await count('marks')) / 4 },
      step_months: { less: 0, each: (await count('step_months')) / 4 },
    };
  });
  afterAll(async () => {
    await databases.end();
    await schools.end();
  });

  const keeper = <T>(work: (db: Seen) => Promise<T>): Promise<T> => archive.as({ role: 'keeper' }, work);

  it('is said here of every table', async () => {
    expect(Object.keys(EXPECTED)).toEqual(await tablesOf(archive));
  });

  it.each(Object.keys(EXPECTED))('%s: as it stands in the table, for every role', async (table) => {
    const { less, each } = apart[table] ?? { less: 0, each: 1 };
    const shown = (count: Count): Count =>
      typeof count === 'number' && count > 0 ? (count - less) / each : count;
    const found = [];
    for (const role of ROLES) {
      const { select, update, delete: deleted } = await reachOf(archive, who[role], table);
      found.push([select, update, deleted].map(shown).join('/'));
    }
    expect(found.join('  ')).toBe(EXPECTED[table]?.trim());
  });

  it('is nothing for who has not said on whose behalf', async () => {
    for (const table of Object.keys(EXPECTED)) {
      const reach: Count[] = Object.values(await reachOf(archive, 'nobody', table));
      expect(
        reach.filter((rows) => rows !== 0 && rows !== '-'),
        table,
      ).toEqual([]);
    }
  });

  it.each(INTRUSIONS)('lets no %s write %s', async (role, _what, intrude) => {
    const by = role === 'station of the other school' ? schools.others.station.who : who[role];
    await expect(archive.as(by, (db) => intrude(db, schools))).rejects.toMatchObject({ code: '42501' });
  });
});
