import { sql } from 'kysely';
import type { Seen } from '../store/connection.ts';
import type { Tried } from './tried.ts';

/** A skill of an attempt with its index in a mock test, 0 in a rehearsal of one, and the archive's ids of its steps. */
export interface PlacedTry extends Tried {
  readonly place: number;
  readonly stepIds: readonly number[];
}

/**
 * Writes the tries of an attempt in place of those it had; the counts follow by themselves. To be called in the transaction that
 * writes its marks or a person's verdicts.
 */
export async function keepTries(db: Seen, attemptId: string, tries: readonly PlacedTry[]): Promise<void> {
  await db
    .deleteFrom('tried')
    .where('attempt_id', '=', attemptId)
    .where('place', 'not in', [-1, ...tries.map(({ place }) => place)])
    .execute();
  for (const { place, skill, version, passed, stepIds, marks, findings, measured } of tries)
    await sql`
      insert into tried (attempt_id, place, school_id, class_id, person_id, skill, version, started_at, passed, step_ids, marks, findings,
        measured)
      select id, ${place}, school_id, class_id, person_id, ${skill}, ${version}, started_at, ${passed}, ${[...stepIds]}::integer[],
        ${marks}, ${findings}, ${JSON.stringify(measured)}::jsonb
      from attempts where id = ${attemptId}
      on conflict (attempt_id, place) do update set
        school_id = excluded.school_id, class_id = excluded.class_id, person_id = excluded.person_id, skill = excluded.skill,
        version = excluded.version, started_at = excluded.started_at, passed = excluded.passed, step_ids = excluded.step_ids,
        marks = excluded.marks, findings = excluded.findings, measured = excluded.measured`.execute(db);
}
