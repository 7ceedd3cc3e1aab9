/**
 * The tables that follow from `tried`, counted again from all of it: what the triggers of migration 0003 keep in step. The tests hold the
 * one against the other; the benchmark fills a large archive with it.
 */
export const FROM_SCRATCH = {
  skill_months: `
    select school_id, class_id, skill, version, date_trunc('month', started_at at time zone 'UTC')::date as month,
      count(*)::int as attempts, count(*) filter (where passed)::int as passed, count(findings)::int as reviewed
    from tried group by 1, 2, 3, 4, 5`,
  step_months: `
    select t.school_id, t.class_id, t.skill, t.version, s.step_id, date_trunc('month', t.started_at at time zone 'UTC')::date as month,
      count(*)::int as attempts, count(*) filter (where s.mark = 'y')::int as credited,
      count(*) filter (where s.finding = 'a')::int as both_yes, count(*) filter (where s.finding = 'd')::int as both_no,
      count(*) filter (where s.finding = 'f')::int as false_credits, count(*) filter (where s.finding = 'm')::int as misses
    from tried t, unnest(t.step_ids, string_to_array(t.marks, null), string_to_array(t.findings, null)) as s(step_id, mark, finding)
    where s.mark <> '-' group by 1, 2, 3, 4, 5, 6`,
  standings: `
    select person_id, skill, school_id, max(tries)::int as tries, max(attempt_id) filter (where nth = 1) as last_attempt,
      max(place) filter (where nth = 1) as last_place, max(started_at) as last_at,
      count(*) filter (where nth <= 2 and passed) = 2 as steady
    from (
      select *, row_number() over (partition by person_id, skill order by started_at desc, attempt_id desc, place desc) as nth,
        count(*) over (partition by person_id, skill) as tries
      from tried where person_id is not null
    ) ranked group by 1, 2, 3`,
} as const;

export type Counted = keyof typeof FROM_SCRATCH;
export const COUNTED = Object.keys(FROM_SCRATCH) as Counted[];

/** A query for the rows that the table and the count from scratch do not share: none, or something is out of step. */
export const differenceOf = (table: Counted): string => {
  const columns = `(${FROM_SCRATCH[table]})`;
  const kept = `(select ${COLUMNS[table]} from ${table})`;
  const fresh = `(select ${COLUMNS[table]} from ${columns} fresh)`;
  return `(${kept} except ${fresh}) union all (${fresh} except ${kept})`;
};

export const COLUMNS: Readonly<Record<Counted, string>> = {
  skill_months: 'school_id, class_id, skill, version, month, attempts, passed, reviewed',
  step_months:
    'school_id, class_id, skill, version, step_id, month, attempts, credited, both_yes, both_no, false_credits, misses',
  standings: 'person_id, skill, school_id, tries, last_attempt, last_place, last_at, steady',
};
