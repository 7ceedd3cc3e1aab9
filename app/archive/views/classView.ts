import { sql } from 'kysely';
import { CAUTION } from '../../marking/result.ts';
import type { Seen } from '../store/connection.ts';
import type { Asked, ClassReply } from './api.ts';
import { pageAfter, pageFrom } from './paging.ts';
import { stepsOf } from './steps.ts';
import { spanOf } from './time.ts';

/** People on a page. */
const PAGE = 60;

/** Tries of each person that are told: as many as readiness looks at. */
const TRIES = 2;

interface Row {
  readonly id: string;
  readonly name: string;
  readonly attempt: string | null;
  readonly started_at: Date;
  readonly passed: boolean;
  readonly step_ids: number[];
  readonly marks: string;
}

/**
 * The people of a class, those without a try too, and the last tries of each at a skill. It costs what the people on the page cost,
 * however many attempts there are.
 *
 * @returns null where there is no such class, or not for who asks
 */
export async function readClass(
  db: Seen,
  classId: string,
  { skill, ...asked }: Asked & { readonly skill: string },
): Promise<ClassReply | null> {
  const own = await db.selectFrom('classes').select('name').where('id', '=', classId).executeTakeFirst();
  if (!own) return null;
  const { from, to } = spanOf(asked);
  const after = pageAfter(asked.after);
  const { rows } = await sql<Row>`
    select p.id, p.name, t.attempt_id as attempt, t.started_at, t.passed, t.step_ids, t.marks
    from (
      select id, name from people
      where class_id = ${classId} and (name, id) > (${after.name}, ${after.id}::uuid)
      order by name, id limit ${PAGE + 1}
    ) p left join lateral (
      select attempt_id, started_at, passed, step_ids, marks from tried
      where skill = ${skill} and person_id = p.id and started_at >= ${from} and started_at < ${to}
      order by started_at desc, attempt_id desc, place desc limit ${TRIES}
    ) t on true
    order by p.name, p.id, t.started_at`.execute(db);

  const all = [...new Map(rows.map(({ id, name }) => [id, { id, name }])).values()];
  const trainees = all.slice(0, PAGE);
  const shown = new Set(trainees.map(({ id }) => id));
  const tries = rows.flatMap(({ id, attempt, started_at, passed, step_ids, marks }) =>
    attempt === null || !shown.has(id)
      ? []
      : [{ attempt, trainee: id, startedAt: started_at.toISOString(), passed, stepIds: step_ids, marks }],
  );
  return {
    name: own.name,
    skill,
    trainees,
    steps: await stepsOf(db, [...new Set(tries.flatMap(({ stepIds }) => stepIds))]),
    tries,
    next: all.length > PAGE ? pageFrom(trainees.at(-1)) : null,
    caution: CAUTION,
  };
}
