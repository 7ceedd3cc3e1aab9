import type { Seen } from '../store/connection.ts';
import { OUTCOMES } from '../store/tables.ts';
import { keepTries, type PlacedTry } from '../views/keepTried.ts';
import { triedOf } from '../views/tried.ts';
import { verdictsIn, type Marked, type MarkedSkill, type MarkedStep } from './markAttempt.ts';
import type { Marking } from './schoolLibrary.ts';

/** What `attempts` says of how an attempt was marked. */
export const markedColumns = (marked: Marked) => ({
  skill: marked.skill,
  version: marked.version,
  started_at: marked.startedAt,
  seconds: marked.seconds,
  engine: marked.engine,
  passed: marked.passed,
  heard: marked.heard,
  of: marked.of,
  critical_missed: marked.criticalMissed,
  marked_by: marked.markedBy,
  signed_off: marked.signedOff,
});

/** Writes an attempt's marks by the machine in the place of those that there are. */
export async function writeMarks(
  db: Seen,
  attempt: string,
  { skills }: Marked,
  school: string,
  marking: Pick<Marking, 'isOwn'>,
): Promise<void> {
  await db.deleteFrom('marks').where('attempt_id', '=', attempt).execute();
  for (const each of skills) {
    const ids = await stepIds(db, versionOf(each, school, marking), each.steps);
    const rows = each.steps.map(({ id, outcome, credited }) => ({
      attempt_id: attempt,
      place: each.place,
      step_id: idIn(ids, id),
      outcome: OUTCOMES.indexOf(outcome),
      credited,
    }));
    if (rows.length > 0) await db.insertInto('marks').values(rows).execute();
  }
}

/** Writes a person's verdicts likewise; those on steps that this version does not have stand in the journal alone. */
export async function writeReviews(
  db: Seen,
  attempt: string,
  { skills }: Marked,
  school: string,
  marking: Pick<Marking, 'isOwn'>,
): Promise<void> {
  await db.deleteFrom('reviews').where('attempt_id', '=', attempt).execute();
  for (const each of skills) {
    const verdicts = verdictsIn(each.review);
    if (verdicts.length === 0) continue;
    const ids = await stepIds(db, versionOf(each, school, marking), each.steps);
    const rows = verdicts.flatMap(({ step, verdict, by, madeAt }) => {
      const id = ids.get(step);
      const row = { attempt_id: attempt, place: each.place, verdict, by, made_at: madeAt };
      return id === undefined ? [] : [{ ...row, step_id: id }];
    });
    if (rows.length > 0) await db.insertInto('reviews').values(rows).execute();
  }
}

/** Writes what the views make of an attempt likewise: of the marks and the verdicts, so whenever one of them was written. */
export async function writeTries(
  db: Seen,
  attempt: string,
  { skills }: Marked,
  school: string,
  marking: Pick<Marking, 'isOwn'>,
): Promise<void> {
  const tries: PlacedTry[] = [];
  for (const each of skills) {
    const ids = await stepIds(db, versionOf(each, school, marking), each.steps);
    const tried = triedOf(each);
    tries.push({ ...tried, place: each.place, stepIds: tried.steps.map((step) => idIn(ids, step)) });
  }
  await keepTries(db, attempt, tries);
}

const versionOf = (
  { checklist: { skill } }: MarkedSkill,
  school: string,
  { isOwn }: Pick<Marking, 'isOwn'>,
): SkillVersion => ({
  school: isOwn(skill.id, skill.version) ? school : null,
  skill: skill.id,
  version: skill.version,
});

/** A version of a skill: the program's own where it has no school. */
export interface SkillVersion {
  readonly school: string | null;
  readonly skill: string;
  readonly version: number;
}

/** The ids of a skill's steps by their names; those that are not there yet are added. */
export async function stepIds(
  db: Seen,
  { school, skill, version }: SkillVersion,
  steps: readonly Pick<MarkedStep, 'id' | 'text' | 'critical'>[],
): Promise<ReadonlyMap<string, number>> {
  const read = async (): Promise<Map<string, number>> => {
    const rows = await db
      .selectFrom('steps')
      .select(['id', 'step'])
      .where('school_id', school === null ? 'is' : '=', school)
      .where('skill', '=', skill)
      .where('version', '=', version)
      .execute();
    return new Map(rows.map(({ id, step }) => [step, id]));
  };
  const known = await read();
  const missing = steps.filter(({ id }) => !known.has(id));
  if (missing.length === 0) return known;
  const rows = missing.map(({ id, text, critical }) => ({
    school_id: school,
    skill,
    version,
    step: id,
    text,
    critical,
  }));
  await db
    .insertInto('steps')
    .values(rows)
    .onConflict((conflict) => conflict.doNothing())
    .execute();
  return read();
}

function idIn(ids: ReadonlyMap<string, number>, step: string): number {
  const id = ids.get(step);
  if (id === undefined) throw new Error(`The step "${step}" was not written.`);
  return id;
}
