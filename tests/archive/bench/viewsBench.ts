/**
 * `npm run bench:archive-views`: makes an archive of a million attempts on a PostgreSQL server of its own (or by --database), in stages, and
 * measures what taking one in costs at each stage, then the views. It takes half an hour on two busy cores, and some 10 GB of
 * disk.
 */
import { parseArgs } from 'node:util';
import { sql } from 'kysely';
import { openArchive, type Archive } from '../../../app/archive/store/connection.ts';
import type { Who } from '../../../app/archive/store/who.ts';
import { readAcross } from '../../../app/archive/views/acrossSchools.ts';
import { readClass } from '../../../app/archive/views/classView.ts';
import { readSchool } from '../../../app/archive/views/schoolView.ts';
import { startPostgres } from '../postgres.ts';
import { measureTakingIn } from './takingIn.ts';
import { spread, timed } from './figures.ts';
import { makeAttempts, makeSchools } from './madeSchools.ts';
import { sequentialScansOf } from './plans.ts';

const { values } = parseArgs({
  options: {
    attempts: { type: 'string', default: '1000000' },
    schools: { type: 'string', default: '40' },
    classes: { type: 'string', default: '8' },
    /** Attempts taken in at each stage. */
    taken: { type: 'string', default: '200' },
    /** Views asked for of each kind. */
    asked: { type: 'string', default: '300' },
    database: { type: 'string' },
    /** The archive at --database was made by an earlier run. */
    made: { type: 'boolean', default: false },
  },
});
/** The account that asks for views. */
const INSTRUCTOR = '11111111-1111-4111-8111-111111111111';
const say = (text: string): void => void process.stdout.write(`${text}\n`);

/** A server of two cores and 8 GB has some such settings. */
const SETTINGS = {
  shared_buffers: '2GB',
  work_mem: '64MB',
  maintenance_work_mem: '512MB',
  max_wal_size: '4GB',
};

const server = values.database === undefined ? await startPostgres({ more: SETTINGS }) : null;
const made = server && server.asSuperuser(await server.newDatabase());
const archive = await openArchive({ database: values.database ?? made ?? '' });
try {
  if (!values.made) await make(archive);
  await measureViews(archive);
  await sizes(archive);
} finally {
  await archive.close();
  await server?.stop();
}

async function make({ db }: Archive): Promise<void> {
  const all = Number(values.attempts);
  await makeSchools(db, { schools: Number(values.schools), classes: Number(values.classes) });
  for (const stage of [all / 100, all / 10, all]) {
    const took = await timed(() => makeAttempts(db, stage, () => undefined));
    say(`${stage} attempts made (${Math.round(took / 1000)} s so far at this stage)`);
    say(`  taking in: ${await measureTakingIn(archive, Number(values.taken))}`);
  }
}

/** Asks for each kind of view many times, each of other classes, schools and skills. */
async function measureViews({ db, as }: Archive): Promise<void> {
  const now = '2026-11-15T08:00:00.000Z';
  const { rows: classes } = await sql<{ id: string; school_id: string; people: number }>`
    select c.id, c.school_id, count(p.id)::int as people from classes c join people p on p.class_id = c.id group by 1, 2 order by md5(c.id::text)`.execute(
    db,
  );
  const { rows: skills } = await sql<{ skill: string }>`select skill from made_skills order by skill`.execute(
    db,
  );
  const { rows: schools } = await sql<{ id: string; attempts: number }>`
    select s.id, (select sum(attempts)::int from skill_months where school_id = s.id) as attempts from schools s order by 2 desc`.execute(
    db,
  );
  const skillAt = (i: number): string => skills[i % skills.length]!.skill; // There are some.
  const classAt = (i: number) => classes[i % classes.length]!; // Likewise.
  say(
    `${schools.length} schools of ${schools.at(-1)?.attempts} to ${schools[0]?.attempts} attempts, ${classes.length} classes`,
  );

  const views: Record<
    string,
    (i: number) => readonly [Who, (db: Parameters<typeof readAcross>[0]) => Promise<unknown>]
  > = {
    'class, one skill (instructor)': (i) => {
      const { id, school_id: school } = classAt(i);
      return [
        { role: 'instructor', account: INSTRUCTOR, school },
        (seen) => readClass(seen, id, { skill: skillAt(i) }),
      ];
    },
    'class, one skill, half a year (school)': (i) => {
      const { id, school_id: school } = classAt(i);
      const asked = { skill: skillAt(i), from: '2026-01-01', to: '2026-07-01' };
      return [{ role: 'school', account: INSTRUCTOR, school }, (seen) => readClass(seen, id, asked)];
    },
    'school, one skill': (i) => {
      const { id: school } = schools[i % schools.length]!; // There are some.
      return [
        { role: 'school', account: INSTRUCTOR, school },
        (seen) => readSchool(seen, school, { skill: skillAt(i) }, now),
      ];
    },
    'school, all skills, all months': (i) => {
      const { id: school } = schools[i % schools.length]!;
      return [{ role: 'school', account: INSTRUCTOR, school }, (seen) => readSchool(seen, school, {}, now)];
    },
    'the largest school, all skills, all months': () => {
      const { id: school } = schools[0]!;
      return [{ role: 'school', account: INSTRUCTOR, school }, (seen) => readSchool(seen, school, {}, now)];
    },
    'one skill across all schools': (i) => {
      const { id: school } = schools[i % schools.length]!;
      return [{ role: 'school', account: INSTRUCTOR, school }, (seen) => readAcross(seen, skillAt(i))];
    },
  };
  await letInstructorIn(archive);
  for (const [name, view] of Object.entries(views)) {
    const took: number[] = [];
    const asked = Number(values.asked) / (name.startsWith('one skill across') ? 10 : 1);
    for (let i = 0; i < asked; i++) {
      const [who, read] = view(i);
      took.push(await timed(() => as(who, read)));
    }
    const [who, read] = view(0);
    const scans = await as(who, (seen) => sequentialScansOf(seen, read));
    say(
      `${name}: ${spread(took)}; sequential scans of big tables: ${scans.length === 0 ? 'none' : scans.join(', ')}`,
    );
  }
}

/** An instructor of every class of the first school: the most that policies have to look through. */
async function letInstructorIn({ db }: Archive): Promise<void> {
  await sql`
    insert into accounts (id, school_id, role, name, token_sha256)
    select ${INSTRUCTOR}, id, 'instructor', 'An instructor', md5('bench') from schools limit 1 on conflict do nothing`.execute(
    db,
  );
  await sql`insert into account_classes select ${INSTRUCTOR}::uuid, id from classes on conflict do nothing`.execute(
    db,
  );
}

async function sizes({ db }: Archive): Promise<void> {
  const { rows } = await sql<{ name: string; mb: number; per: number }>`
    select relname as name, round(pg_total_relation_size(oid) / 1e6)::int as mb,
      round(pg_total_relation_size(oid) / (select greatest(count(*), 1) from attempts))::int as per
    from pg_class where relkind = 'r' and relnamespace = 'public'::regnamespace and relname not like 'made%'
    order by pg_total_relation_size(oid) desc limit 9`.execute(db);
  say('table: MB with indexes, bytes for each attempt (journals and sound apart)');
  for (const { name, mb, per } of rows) say(`  ${name}: ${mb} MB, ${per}`);
}
