import { sql } from 'kysely';
import { CAUTION } from '../../marking/result.ts';
import { STALE_DAYS } from '../../progress/nextPractice.ts';
import type { Seen } from '../store/connection.ts';
import type { Asked, MissedStep, SchoolReply } from './api.ts';
import { spanOf, type Span } from './time.ts';

type ClassOfSchool = SchoolReply['classes'][number];
type Standing = ClassOfSchool['standings'][number];

/** Steps of each class that are told, those missed most. */
const WORST = 5;

/** Days that are looked back on for what is missed most in all skills, where no time is chosen: what is older tells of those who have learnt. */
const LOOKED_BACK = 90;

/** Tries that a step must have been judged in before it says anything of a class. Chosen, not measured. */
const LEAST_TRIES = 5;

/**
 * A school class by class: who practises, who is ready by the rule of app/progress, what is missed most; and by month. With a skill, of
 * that one alone.
 *
 * @param now in UTC as ISO 8601 has it: readiness ends with time
 * @returns null where there is no such school, or not for who asks
 */
export async function readSchool(
  db: Seen,
  schoolId: string,
  asked: Asked,
  now: string,
): Promise<SchoolReply | null> {
  const school = await db.selectFrom('schools').select('name').where('id', '=', schoolId).executeTakeFirst();
  if (!school) return null;
  const skill = asked.skill ?? null;
  const span = spanOf(asked);
  const classes = await readClasses(db, schoolId);
  const standings = await readStandings(db, schoolId, skill, now);
  const missed =
    skill === null
      ? await missedInMonths(db, schoolId, asked.from === undefined ? lately(now, span) : span)
      : await missedInLastTries(db, schoolId, skill);
  return {
    name: school.name,
    classes: classes.map((each): ClassOfSchool => {
      const own = standings.filter(({ class_id }) => class_id === each.id);
      return {
        ...each,
        standings: own.map(({ skill, practised, ready, notSteady, longAgo }) => ({
          skill,
          practised,
          ready,
          notSteady,
          longAgo,
        })),
        missed: missed
          .filter(({ class_id }) => class_id === each.id)
          .map(({ skill, step, text, critical, missed, of }) => ({
            skill,
            step,
            text,
            critical,
            missed,
            of,
          })),
      };
    }),
    months: await readMonths(db, schoolId, skill, span),
    caution: CAUTION,
  };
}

const lately = (now: string, { to }: Span): Span => ({
  from: new Date(Date.parse(now) - LOOKED_BACK * 86_400_000),
  to,
});

async function readClasses(
  db: Seen,
  schoolId: string,
): Promise<Pick<ClassOfSchool, 'id' | 'name' | 'people'>[]> {
  const { rows } = await sql<Pick<ClassOfSchool, 'id' | 'name' | 'people'>>`
    select c.id, c.name, count(p.id)::int as people
    from classes c left join people p on p.class_id = c.id
    where c.school_id = ${schoolId} group by c.id, c.name order by c.name`.execute(db);
  return rows;
}

/** How many of each class have practised a skill, and how they stand. The rule is that of `readiness` in app/progress. */
async function readStandings(
  db: Seen,
  schoolId: string,
  skill: string | null,
  now: string,
): Promise<(Standing & { class_id: string })[]> {
  const { rows } = await sql<Standing & { class_id: string }>`
    with stands as (
      select p.class_id, s.skill, s.steady, ${now}::timestamptz - s.last_at > ${`${STALE_DAYS} days`}::interval as stale
      from standings s join people p on p.id = s.person_id
      where s.school_id = ${schoolId} and p.class_id is not null and (${skill}::text is null or s.skill = ${skill})
    )
    select class_id, skill, count(*)::int as practised,
      count(*) filter (where steady and not stale)::int as ready,
      count(*) filter (where not steady)::int as "notSteady",
      count(*) filter (where steady and stale)::int as "longAgo"
    from stands group by class_id, skill order by class_id, skill`.execute(db);
  return rows;
}

type MissedInClass = MissedStep & { class_id: string; skill: string };

/** Over each person's last try, as `hardestSteps` in app/progress: who practises much does not count more. */
async function missedInLastTries(db: Seen, schoolId: string, skill: string): Promise<MissedInClass[]> {
  const { rows } = await sql<MissedInClass>`
    with counted as (
      select p.class_id, m.step_id, count(*) as judged, count(*) filter (where m.mark = 'n') as missed
      from standings s join people p on p.id = s.person_id
      join tried t on t.attempt_id = s.last_attempt and t.place = s.last_place,
      unnest(t.step_ids, string_to_array(t.marks, null)) as m(step_id, mark)
      where s.school_id = ${schoolId} and s.skill = ${skill} and p.class_id is not null and m.mark <> '-'
      group by p.class_id, m.step_id
    )
    ${worstOf(1)}`.execute(db);
  return rows;
}

/** Over all tries of some months. */
async function missedInMonths(db: Seen, schoolId: string, { from, to }: Span): Promise<MissedInClass[]> {
  const { rows } = await sql<MissedInClass>`
    with counted as (
      select class_id, step_id, sum(attempts) as judged, sum(attempts - credited) as missed
      from step_months
      where school_id = ${schoolId} and class_id is not null
        and month >= date_trunc('month', ${from}::timestamptz, 'UTC')::date and month < ${to}::timestamptz
      group by class_id, step_id
    )
    ${worstOf(LEAST_TRIES)}`.execute(db);
  return rows;
}

/** The steps missed most of each class, of `counted`: critical ones first, then by share, as `missedIn` in app/progress. */
const worstOf = (least: number) => sql`
  select class_id, skill, step, text, critical, missed::int, judged::int as of
  from (
    select c.class_id, s.skill, s.step, s.text, s.critical, c.missed, c.judged, row_number() over (
      partition by c.class_id order by s.critical desc, c.missed::float / c.judged desc, s.id) as place
    from counted c join steps s on s.id = c.step_id
    where c.missed > 0 and c.judged >= ${least}
  ) ranked
  where place <= ${WORST} order by class_id, place`;

async function readMonths(
  db: Seen,
  schoolId: string,
  skill: string | null,
  { from, to }: Span,
): Promise<SchoolReply['months']> {
  const { rows } = await sql<SchoolReply['months'][number]>`
    select to_char(month, 'YYYY-MM-DD') as month, sum(attempts)::int as attempts, sum(passed)::int as passed,
      sum(reviewed)::int as reviewed
    from skill_months
    where school_id = ${schoolId} and (${skill}::text is null or skill = ${skill})
      and month >= date_trunc('month', ${from}::timestamptz, 'UTC')::date and month < ${to}::timestamptz
    group by month order by month`.execute(db);
  return rows;
}
