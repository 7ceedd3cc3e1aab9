import { sql } from 'kysely';
import type { Archive } from '../store/connection.ts';
import type { Job, Queue } from './queue.ts';

/** Attempts of one job: a second or two of work, so that little is done again when a worker is killed. */
const MARKED_AT_A_TIME = 50;

/** What is to be marked again, and by what. */
export interface Asked {
  readonly skill: string;
  readonly version: number;
  /** Attempts of one job, where it is not {@link MARKED_AT_A_TIME}. */
  readonly atATime?: number;
  /** Stands for the program that marks: asked for twice of the same one, it is the same marking. */
  readonly markedBy: string;
}

/** A marking and how many attempts were put in the queue for it now. */
export interface Put {
  readonly marking: string;
  readonly attempts: number;
}

/**
 * Puts all attempts of a skill in the queue to be marked again, in one transaction. Asked for again, it puts only those that came since.
 */
export function putMarking(
  archive: Archive,
  queue: Queue,
  { skill, version, markedBy, atATime = MARKED_AT_A_TIME }: Asked,
): Promise<Put> {
  return archive.as({ role: 'worker' }, async (db) => {
    const { id: marking, up_to } = await db
      .insertInto('markings')
      .values({ skill, version, marked_by: markedBy })
      // Locks the row, so that two who ask at once put each attempt once.
      .onConflict((conflict) => conflict.columns(['skill', 'version', 'marked_by']).doUpdateSet({ skill }))
      .returning(['id', 'up_to'])
      .executeTakeFirstOrThrow();
    const { rows } = await sql<{ from: string; up_to: string; attempts: number }>`
      select min(id) as from, max(id) as up_to, count(*)::int as attempts
      from (
        select id, (row_number() over (order by id) - 1) / ${atATime} as batch
        from attempts where skill = ${skill} and id > ${up_to} and version is not null
      ) batched group by batch order by 1`.execute(db);
    const jobs = rows.map((row): Job => ({ marking, from: row.from, upTo: row.up_to }));
    const last = jobs.at(-1);
    if (!last) return { marking, attempts: 0 };
    await db.updateTable('markings').set({ up_to: last.upTo }).where('id', '=', marking).execute();
    // The queue's tables are not the worker's.
    await sql`reset role`.execute(db);
    await queue.put(db, jobs);
    return { marking, attempts: rows.reduce((sum, { attempts }) => sum + attempts, 0) };
  });
}
