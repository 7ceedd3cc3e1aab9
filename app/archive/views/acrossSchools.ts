import { sql } from 'kysely';
import { CAUTION } from '../../marking/result.ts';
import type { Seen } from '../store/connection.ts';
import type { AcrossReply } from './api.ts';
import { stepsOf } from './steps.ts';

interface Group {
  readonly version: number;
  readonly step_id: number;
  readonly people: number;
}

/**
 * A skill across all schools, without names: which steps are missed, and how machine and persons agree. The database leaves out what
 * could tell of single people (migration 0003 says how) before anything reaches the program.
 */
export async function readAcross(db: Seen, skill: string): Promise<AcrossReply> {
  const hardest = await sql<Group & { missed: number }>`
    select * from hardest_across_schools(${skill}) order by missed desc, step_id`.execute(db);
  const agreement = await sql<Group & { agree: number; falseCredits: number; misses: number }>`
    select version, step_id, people, agree, false_credits as "falseCredits", misses
    from agreement_across_schools(${skill}) order by false_credits desc, misses desc, step_id`.execute(db);
  const ids = [...hardest.rows, ...agreement.rows].map(({ step_id }) => step_id);
  const known = new Map((await stepsOf(db, [...new Set(ids)])).map(({ id, ...step }) => [id, step]));
  const named = <G extends Group>({ step_id, ...group }: G) => {
    const step = known.get(step_id);
    return step ? [{ ...step, ...group }] : [];
  };
  return {
    skill,
    hardest: hardest.rows.flatMap(named),
    agreement: agreement.rows.flatMap(named),
    caution: CAUTION,
  };
}
