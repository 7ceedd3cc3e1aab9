import type { Seen } from '../store/connection.ts';

/** What a view says of a step, by the id that the archive gave it. */
export interface KnownStep {
  readonly id: number;
  readonly step: string;
  readonly text: string;
  readonly critical: boolean;
}

/** The steps of some ids, in their order. A skill's steps were given theirs in the order of its list. */
export async function stepsOf(db: Seen, ids: readonly number[]): Promise<KnownStep[]> {
  if (ids.length === 0) return [];
  return db
    .selectFrom('steps')
    .select(['id', 'step', 'text', 'critical'])
    .where('id', 'in', [...ids])
    .orderBy('id')
    .execute();
}
