import { sql, type Kysely, type Migration } from 'kysely';
import {
  ALL,
  OF_A_PERSON_I_SEE,
  OF_AN_ATTEMPT_I_SEE,
  OF_MY_CLASSES,
  OF_MY_SCHOOL,
  policiesOf,
  reads,
  SCHOOL,
  type Right,
  type Rights,
} from './0002-policies.ts';

/**
 * What the views of classes and schools are made of. `tried` holds each skill of each attempt as progress looks at it, a person's
 * verdict before the machine's mark; the program writes it with the marks. All else follows from it by a trigger, so that taking in,
 * marking again, reviewing and deleting (a cascade too) keep it in step: `standings`, how a person stands with a skill now, and
 * `skill_months` and `step_months`, counts that grow with classes, steps and months and not with attempts.
 */
export const views: Migration = {
  async up(db: Kysely<unknown>) {
    for (const statement of STATEMENTS) await sql.raw(statement).execute(db);
  },
};

/** Whoever writes a try writes it of an attempt they see, and as that attempt's: nothing is counted for another class or school. */
const AS_ITS_ATTEMPT = `exists (select from attempts a where a.id = attempt_id and a.school_id = tried.school_id
  and a.class_id is not distinct from tried.class_id and a.person_id is not distinct from tried.person_id)`;

const writes: readonly Right[] = [
  ['insert', AS_ITS_ATTEMPT],
  ['update', AS_ITS_ATTEMPT],
  ['delete', OF_AN_ATTEMPT_I_SEE],
];

/** A person's verdict stands in it before the machine's mark, and what persons said is not for the trainee: so trainees read none of it. */
const RIGHTS: Readonly<Record<string, Rights>> = {
  tried: {
    instructor: [...reads(OF_MY_CLASSES), ...writes],
    school: [...reads(OF_MY_SCHOOL), ...writes],
    station: [...reads(OF_AN_ATTEMPT_I_SEE), ...writes],
    worker: [...reads(ALL), ...writes],
  },
  standings: { instructor: reads(OF_A_PERSON_I_SEE), school: reads(OF_MY_SCHOOL) },
  skill_months: { instructor: reads(OF_MY_CLASSES), school: reads(OF_MY_SCHOOL) },
  step_months: { instructor: reads(OF_MY_CLASSES), school: reads(OF_MY_SCHOOL) },
};

/** What the tables are kept and read by, on behalf of whoever writes or asks: it reaches rows that they do not see. */
const FUNCTIONS = [
  'count_try(tried, integer)',
  'stand_again(tried, integer)',
  'keep_counts()',
  'hardest_across_schools(text)',
  'agreement_across_schools(text)',
];

const STATEMENTS = [
  // `marks` has a letter a step, in the order of step_ids: y credited, n not, - not judged. `findings` likewise where machine and person
  // can be compared: a both yes, d both no, f false credit, m miss, - nothing to compare; null where nobody reviewed.
  `create table tried (
     attempt_id bigint not null references attempts on delete cascade,
     place smallint not null,
     school_id uuid not null,
     class_id uuid,
     person_id uuid,
     skill text not null,
     version integer not null,
     started_at timestamptz not null,
     passed boolean not null,
     step_ids integer[] not null,
     marks text not null check (length(marks) = cardinality(step_ids)),
     findings text check (length(findings) = cardinality(step_ids)),
     measured jsonb not null,
     primary key (attempt_id, place)
   )`,
  `create index tried_by_person on tried (skill, person_id, started_at desc)`,
  `create index tried_and_reviewed on tried (skill, person_id) where findings is not null`,
  `create index people_of_school on people (school_id, class_id)`,
  // `steady`: the last two tries were passed. The place in the test and the attempt lead to the last one.
  `create table standings (
     person_id uuid not null references people on delete cascade,
     skill text not null,
     school_id uuid not null,
     tries integer not null,
     last_attempt bigint,
     last_place smallint,
     last_at timestamptz,
     steady boolean not null default false,
     primary key (person_id, skill)
   ) with (fillfactor = 80)`,
  `create index standings_of_school on standings (school_id, skill)`,
  `create table skill_months (
     school_id uuid not null,
     class_id uuid,
     skill text not null,
     version integer not null,
     month date not null,
     attempts integer not null,
     passed integer not null,
     reviewed integer not null,
     unique nulls not distinct (school_id, month, class_id, skill, version)
   ) with (fillfactor = 80)`,
  // Attempts in which the step was judged, those credited, and of reviewed ones what machine and person said.
  `create table step_months (
     school_id uuid not null,
     class_id uuid,
     skill text not null,
     version integer not null,
     step_id integer not null references steps,
     month date not null,
     attempts integer not null,
     credited integer not null,
     both_yes integer not null,
     both_no integer not null,
     false_credits integer not null,
     misses integer not null,
     unique nulls not distinct (school_id, month, class_id, skill, version, step_id)
   ) with (fillfactor = 80)`,
  // Adds one try to the counts, or with sign -1 takes it away. Rows in one order, so that two transactions never wait for each other.
  `create function count_try(t tried, sign integer) returns void language plpgsql security definer set search_path from current as $$
   declare
     its_month date := date_trunc('month', t.started_at at time zone 'UTC');
   begin
     insert into skill_months as had (school_id, class_id, skill, version, month, attempts, passed, reviewed)
     values (t.school_id, t.class_id, t.skill, t.version, its_month, sign, sign * t.passed::int, sign * (t.findings is not null)::int)
     on conflict (school_id, month, class_id, skill, version) do update set
       attempts = had.attempts + excluded.attempts,
       passed = had.passed + excluded.passed,
       reviewed = had.reviewed + excluded.reviewed;
     insert into step_months as had (school_id, class_id, skill, version, step_id, month,
       attempts, credited, both_yes, both_no, false_credits, misses)
     select t.school_id, t.class_id, t.skill, t.version, s.step_id, its_month,
       sign, sign * (s.mark = 'y')::int,
       sign * (s.finding = 'a')::int, sign * (s.finding = 'd')::int, sign * (s.finding = 'f')::int, sign * (s.finding = 'm')::int
     from unnest(t.step_ids, string_to_array(t.marks, null),
       string_to_array(coalesce(t.findings, repeat('-', length(t.marks))), null)) as s(step_id, mark, finding)
     where s.mark <> '-'
     order by s.step_id
     on conflict (school_id, month, class_id, skill, version, step_id) do update set
       attempts = had.attempts + excluded.attempts,
       credited = had.credited + excluded.credited,
       both_yes = had.both_yes + excluded.both_yes,
       both_no = had.both_no + excluded.both_no,
       false_credits = had.false_credits + excluded.false_credits,
       misses = had.misses + excluded.misses;
     if sign < 0 then
       delete from skill_months m where m.attempts = 0 and (m.school_id, m.skill, m.version, m.month)
         = (t.school_id, t.skill, t.version, its_month) and m.class_id is not distinct from t.class_id;
       delete from step_months m where m.attempts = 0 and (m.school_id, m.skill, m.version, m.month)
         = (t.school_id, t.skill, t.version, its_month) and m.class_id is not distinct from t.class_id;
     end if;
   end $$`,
  // Counts a person's try and looks where they stand now. The first statement locks the row, so that the second sees what others, who
  // waited or were waited for, have written.
  `create function stand_again(t tried, sign integer) returns void language plpgsql security definer set search_path from current as $$
   begin
     if t.person_id is null or not exists (select from people where id = t.person_id) then return; end if;
     insert into standings as had (person_id, skill, school_id, tries) values (t.person_id, t.skill, t.school_id, sign)
     on conflict (person_id, skill) do update set tries = had.tries + excluded.tries;
     update standings set
       (last_attempt, last_place, last_at, steady) =
         (select (array_agg(l.attempt_id order by l.nth))[1], (array_agg(l.place order by l.nth))[1], max(l.started_at),
            count(*) filter (where l.passed) = 2
          from (select attempt_id, place, started_at, passed,
                  row_number() over (order by started_at desc, attempt_id desc, place desc) as nth
                from tried where skill = t.skill and person_id = t.person_id
                order by nth limit 2) l)
     where person_id = t.person_id and skill = t.skill;
     delete from standings where person_id = t.person_id and skill = t.skill and tries = 0;
   end $$`,
  `create function keep_counts() returns trigger language plpgsql security definer set search_path from current as $$
   begin
     if tg_op <> 'INSERT' then
       perform count_try(old, -1);
       perform stand_again(old, -1);
     end if;
     if tg_op <> 'DELETE' then
       perform count_try(new, 1);
       perform stand_again(new, 1);
     end if;
     return null;
   end $$`,
  `create trigger keep_counts after insert or update or delete on tried for each row execute function keep_counts()`,
  // Across schools, without their names. A group is a step of one version of a skill over all schools; it is shown where ten people are in
  // it, and ten people of two schools at least that are not the asking one's: whoever takes their own school away must not be left with
  // fewer. Nothing is added up over groups, nobody chooses the time (all before this month), shares come in steps of five percent, from 5 to
  // 95, and people in tens, rounded down: two answers beside each other do not tell of one person.
  `create function coarse(part numeric, whole numeric) returns integer language sql immutable as $$
     select least(95, greatest(5, 5 * round(20 * part / whole)))::int
   $$`,
  `create function is_shown(people numeric, other_people numeric, other_schools bigint) returns boolean language sql immutable as $$
     select people >= 10 and coalesce(other_people, 0) >= 10 and other_schools >= 2
   $$`,
  // Which steps of a skill are missed, over the last try of each person before this month.
  `create function hardest_across_schools(its_skill text)
   returns table (version integer, step_id integer, people integer, missed integer)
   language sql stable security definer set search_path from current as $$
     with last_tries as (
       select s.school_id, t.version, t.step_ids, t.marks
       from standings s cross join lateral (
         select version, step_ids, marks from tried
         where skill = s.skill and person_id = s.person_id and started_at < date_trunc('month', now(), 'UTC')
         order by started_at desc, attempt_id desc, place desc limit 1) t
       where s.skill = its_skill
     ), by_school as (
       select l.school_id, l.version, m.step_id, count(*) as people, count(*) filter (where m.mark = 'n') as missed
       from last_tries l, unnest(l.step_ids, string_to_array(l.marks, null)) as m(step_id, mark)
       where m.mark <> '-' group by 1, 2, 3
     )
     select version, step_id, (sum(people)::int / 10) * 10, coarse(sum(missed), sum(people))
     from by_school group by version, step_id
     having is_shown(sum(people), sum(people) filter (where school_id is distinct from ${SCHOOL}),
       count(*) filter (where school_id is distinct from ${SCHOOL}))
   $$`,
  // How machine and persons agree on the steps of a skill, over all that was reviewed before this month; shares of the marks compared.
  `create function agreement_across_schools(its_skill text)
   returns table (version integer, step_id integer, people integer, agree integer, false_credits integer, misses integer)
   language sql stable security definer set search_path from current as $$
     with by_person as (
       select t.school_id, t.person_id, t.version, m.step_id, count(*) as compared,
         count(*) filter (where m.finding in ('a', 'd')) as agree,
         count(*) filter (where m.finding = 'f') as false_credits,
         count(*) filter (where m.finding = 'm') as misses
       from tried t, unnest(t.step_ids, string_to_array(t.findings, null)) as m(step_id, finding)
       where t.skill = its_skill and t.findings is not null and t.person_id is not null
         and t.started_at < date_trunc('month', now(), 'UTC') and m.finding <> '-'
       group by 1, 2, 3, 4
     ), by_school as (
       select school_id, version, step_id, count(*) as people, sum(compared) as compared, sum(agree) as agree,
         sum(false_credits) as false_credits, sum(misses) as misses
       from by_person group by 1, 2, 3
     )
     select version, step_id, (sum(people)::int / 10) * 10, coarse(sum(agree), sum(compared)),
       coarse(sum(false_credits), sum(compared)), coarse(sum(misses), sum(compared))
     from by_school group by version, step_id
     having is_shown(sum(people), sum(people) filter (where school_id is distinct from ${SCHOOL}),
       count(*) filter (where school_id is distinct from ${SCHOOL}))
   $$`,
  ...policiesOf(RIGHTS),
  ...FUNCTIONS.flatMap((name) => [
    `revoke execute on function ${name} from public`,
    `alter function ${name} owner to sinkside_keeper`,
  ]),
  'grant execute on function hardest_across_schools(text), agreement_across_schools(text) to sinkside_instructor, sinkside_school',
];
