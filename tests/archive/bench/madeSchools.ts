import { sql, type Kysely } from 'kysely';
import type { Tables } from '../../../app/archive/store/tables.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import { COLUMNS, COUNTED, FROM_SCRATCH } from '../countsFromScratch.ts';

/**
 * Makes a large archive by SQL, truthfully: a person has an ability, a step a difficulty, who practises a skill gets better at it, and
 * each mark is drawn by a logistic model of the three. Schools, classes and diligence are skewed. A person has judged some of the
 * attempts, and differs from the machine now and then. Journals and sound are left out.
 */

export interface Sizes {
  readonly schools: number;
  /** Of a school on average; the largest has several times as many. */
  readonly classes: number;
}

/** The skill steps that marks are made for, schools, classes and people. @param db as the owner of everything */
export async function makeSchools(db: Kysely<Tables>, { schools, classes }: Sizes): Promise<void> {
  await sql`select setseed(0.5)`.execute(db);
  await makeSteps(db);
  await sql`
    insert into schools select gen_random_uuid(), 'School ' || n from generate_series(1, ${schools}::int) n`.execute(
    db,
  );
  await sql`
    insert into stations (id, school_id, name, key_sha256)
    select gen_random_uuid(), id, 'Station of ' || name, encode(sha256(id::text::bytea), 'hex') from schools`.execute(
    db,
  );
  // A third of the schools has two thirds of the classes: the share falls as the inverse of the square root of a school's place.
  await sql`
    insert into classes
    select gen_random_uuid(), s.id, 'Class ' || n
    from (select id, row_number() over (order by name) as place from schools) s,
    generate_series(1, greatest(1, round(${classes}::int * sqrt(${schools}::int) / 2 / sqrt(s.place)))::int) n`.execute(
    db,
  );
  await sql`
    insert into people
    select gen_random_uuid(), c.school_id, c.id, 'Trainee ' || n || ' ' || left(c.id::text, 4)
    from (select *, 12 + floor(random() * 21)::int as size from classes) c, generate_series(1, c.size) n`.execute(
    db,
  );
  await sql`
    create table made_people as
    select id, school_id, class_id, ability, sum(weight) over (order by id) / sum(weight) over () as up_to
    from (
      select id, school_id, class_id, sqrt(-2 * ln(1 - random())) * cos(2 * pi() * random()) as ability,
        exp(0.8 * sqrt(-2 * ln(1 - random())) * cos(2 * pi() * random())) as weight
      from people order by id
    ) p`.execute(db);
  await sql`create unique index on made_people (up_to)`.execute(db);
  await sql`analyze`.execute(db);
}

async function makeSteps(db: Kysely<Tables>): Promise<void> {
  const library = await openLibrary();
  const rows = [...library.skills.values()].flatMap((skill) =>
    makeChecklist(skill, library.lexicon, library.rules).steps.map(({ id, text, critical, evidence }) => ({
      skill: skill.id,
      version: skill.version,
      step: id,
      text,
      critical,
      eyes: evidence.kind === 'eyes',
    })),
  );
  await db
    .insertInto('steps')
    .values(
      rows.map(({ skill, version, step, text, critical }) => ({ skill, version, step, text, critical })),
    )
    .execute();
  await sql`
    create table made_steps as
    select s.id, s.skill, s.version, s.critical, e.eyes, -2.2 + 0.9 * sqrt(-2 * ln(1 - random())) * cos(2 * pi() * random()) as difficulty
    from steps s join json_to_recordset(${JSON.stringify(rows)}::json) as e(skill text, step text, eyes boolean)
      on e.skill = s.skill and e.step = s.step`.execute(db);
  await sql`
    create table made_skills as
    select skill, version, row_number() over (order by skill) as place, array_agg(id order by id) as step_ids,
      array_agg(difficulty order by id) as difficulties, array_agg(critical order by id) as criticals, array_agg(eyes order by id) as eyes
    from made_steps group by skill, version`.execute(db);
}

/** Attempts made at a time: so many fit into memory with all their marks. */
const BATCH = 50_000;

/** Adds attempts until there are so many, and counts all that follows from them. Triggers do not run meanwhile. */
export async function makeAttempts(
  db: Kysely<Tables>,
  upTo: number,
  tell: (text: string) => void,
): Promise<void> {
  const { n } = await db
    .selectFrom('attempts')
    .select(({ fn }) => fn.countAll<string>().as('n'))
    .executeTakeFirstOrThrow();
  for (let from = Number(n); from < upTo; from += BATCH) {
    await db.connection().execute(async (one) => {
      await sql`set session_replication_role = replica`.execute(one);
      await makeBatch(one, Math.min(BATCH, upTo - from));
      await sql`set session_replication_role = origin`.execute(one);
    });
    tell(`${Math.min(upTo, from + BATCH)} attempts made`);
  }
  for (const table of COUNTED) {
    await sql.raw(`truncate ${table}`).execute(db);
    await sql
      .raw(
        `insert into ${table} (${COLUMNS[table]}) select ${COLUMNS[table]} from (${FROM_SCRATCH[table]}) made`,
      )
      .execute(db);
  }
  await sql`vacuum analyze`.execute(db);
}

async function makeBatch(db: Kysely<Tables>, size: number): Promise<void> {
  await sql`drop table if exists made`.execute(db);
  // Who, what, when; the months since all began stand for what was learnt.
  await sql`
    create temporary table made as
    select nextval(pg_get_serial_sequence('attempts', 'id')) as id, p.school_id, p.class_id, p.id as person_id, p.ability, k.skill, k.version,
      k.step_ids, k.difficulties, k.criticals, k.eyes, d.started_at, random() < 0.04 as reviewed,
      extract(epoch from d.started_at - timestamptz '2025-09-01') / 86400 / 30 as months,
      null::text as machine, null::text as persons
    from (
      select random() as whom, 1 + floor(random() * (select count(*) from made_skills))::int as place,
        timestamptz '2025-09-01 08:00Z' + random() * interval '440 days' as started_at
      from generate_series(1, ${size}::int)
    ) d
    join made_skills k on k.place = d.place
    cross join lateral (select * from made_people where up_to >= d.whom order by up_to limit 1) p`.execute(
    db,
  );
  await sql`
    update made set machine = array_to_string(array(
      select case when e then '-' when random() < 1 / (1 + exp(difficulty - ability - 0.35 * ln(1 + months))) then 'y' else 'n' end
      from unnest(difficulties, eyes) as s(difficulty, e)), '')`.execute(db);
  // A person sees what words cannot show, hears what the machine missed, and rarely takes a credit away.
  await sql`
    update made set persons = array_to_string(array(
      select case
        when m = '-' then case when random() < 0.85 then 'y' else 'n' end
        when m = 'n' and random() < 0.12 then 'y'
        when m = 'y' and random() < 0.01 then 'n'
        else m end
      from unnest(string_to_array(machine, null)) as s(m)), '')
    where reviewed`.execute(db);
  await sql`drop table if exists made_results`.execute(db);
  await sql`
    create temporary table made_results as
    select id,
      length(replace(replace(machine, 'n', ''), '-', '')) as heard, length(replace(machine, '-', '')) as of,
      (select count(*) from unnest(criticals, string_to_array(machine, null)) as s(c, m) where c and m = 'n') as critical_missed,
      (select count(*) from unnest(criticals, string_to_array(coalesce(persons, machine), null)) as s(c, m) where c and m = 'n') as missed_in_all,
      length(replace(replace(coalesce(persons, machine), 'n', ''), '-', '')) as yes,
      length(replace(coalesce(persons, machine), '-', '')) as judged
    from made`.execute(db);
  await sql`
    insert into attempts (id, school_id, station_id, class_id, person_id, record, sha256, skill, version, started_at, seconds, engine,
      passed, heard, of, critical_missed, marked_by, signed_off, agreed_to_sound)
    overriding system value
    select m.id, m.school_id, s.id, m.class_id, m.person_id, 'made-' || m.id, encode(sha256(('made-' || m.id)::bytea), 'hex'), m.skill, m.version,
      m.started_at, 120 + 240 * random(), 'moonshine/moonshine-tiny-en-tap',
      r.critical_missed = 0 and r.heard >= 0.8 * r.of, r.heard, r.of, r.critical_missed, 'made', m.reviewed, true
    from made m join made_results r using (id) join stations s on s.school_id = m.school_id`.execute(db);
  await sql`
    insert into marks (attempt_id, place, step_id, outcome, credited)
    select m.id, 0, s.step_id, case s.mark when 'y' then 0 when 'n' then 1 else 4 end, case when s.mark <> '-' then s.mark = 'y' end
    from made m, unnest(m.step_ids, string_to_array(m.machine, null)) as s(step_id, mark)`.execute(db);
  await sql`
    insert into reviews (attempt_id, place, step_id, verdict, by, made_at)
    select m.id, 0, s.step_id, s.mark = 'y', 'A reviewer', m.started_at + interval '1 day'
    from made m, unnest(m.step_ids, string_to_array(m.persons, null)) as s(step_id, mark) where m.reviewed`.execute(
    db,
  );
  await sql`
    insert into tried (attempt_id, place, school_id, class_id, person_id, skill, version, started_at, passed, step_ids, marks, findings, measured)
    select m.id, 0, m.school_id, m.class_id, m.person_id, m.skill, m.version, m.started_at,
      r.missed_in_all = 0 and r.yes >= 0.8 * r.judged, m.step_ids, coalesce(m.persons, m.machine),
      (select string_agg(case when x = '-' then '-' when x = 'y' and y = 'y' then 'a' when x = 'y' then 'f' when y = 'y' then 'm' else 'd' end,
        '' order by i)
       from unnest(string_to_array(m.machine, null), string_to_array(m.persons, null)) with ordinality as s(x, y, i) where m.reviewed),
      '{"clocks":[],"readings":[],"narrated":0.8,"longestSilence":4}'
    from made m join made_results r using (id)`.execute(db);
}
