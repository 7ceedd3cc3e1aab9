import { createHash } from 'node:crypto';
import { CompiledQuery, type Kysely } from 'kysely';
import PgBoss from 'pg-boss';
import { z } from 'zod';
import type { Archive } from '../store/connection.ts';
import type { Tables } from '../store/tables.ts';

/** A piece of work: the attempts of one marking from one id on and up to another. */
const JobSchema = z.object({ marking: z.string(), from: z.string(), upTo: z.string() });
export type Job = z.infer<typeof JobSchema>;

/** A job that a worker has taken. */
export interface TakenJob extends Job {
  readonly id: string;
}

const MARKING = 'marking';

/**
 * Seconds after which a job that was taken and is not done is given to another worker. A batch takes a few seconds (`MARKED_AT_A_TIME` in
 * putting.ts); whoever was only slow marks nothing twice.
 */
export const TAKEN_FOR = 60;

/** Seconds between two looks for such jobs, by whichever worker is first. */
export const LOOKED_EVERY = 10;

/** How often a job is taken again before it is given up: workers may be killed more than once over it. */
const RETRIES = 20;

/** The queue of an archive: pg-boss's tables in the same database, so that what is put in a transaction is there or not with it. */
export class Queue {
  private constructor(private readonly boss: PgBoss) {}

  /**
   * Opens it, and makes its tables where they are missing.
   *
   * @param supervises whether it looks for jobs that were not done; a worker does, who only asks or puts need not
   * @param warn hears of what went wrong between two calls
   */
  static async open(archive: Archive, supervises: boolean, warn: (message: string) => void): Promise<Queue> {
    const boss = new PgBoss({
      db: { executeSql: (text, values) => executeOn(archive.db, text, values) },
      schedule: false,
      supervise: supervises,
      maintenanceIntervalSeconds: LOOKED_EVERY,
    });
    boss.on('error', (error) => warn(`The queue: ${error.message}`));
    await boss.start();
    await boss.createQueue(MARKING, {
      name: MARKING,
      policy: 'standard',
      expireInSeconds: TAKEN_FOR,
      retryLimit: RETRIES,
      retentionMinutes: 60 * 24 * 30,
    });
    return new Queue(boss);
  }

  /**
   * Puts jobs in a transaction. One that is there already, or is being worked on, is not put again.
   *
   * @param db the transaction, without a role
   */
  async put(db: Kysely<Tables>, jobs: readonly Job[]): Promise<void> {
    await this.boss.insert(
      jobs.map((job) => ({ id: idOf(job), name: MARKING, data: job })),
      // It is there, and taken, but not in the types.
      { db: { executeSql: (text: string, values: unknown[]) => execute(db, text, values) } } as object,
    );
  }

  /** Takes the next job; null where there is none now. */
  async take(): Promise<TakenJob | null> {
    const [job] = await this.boss.fetch<unknown>(MARKING);
    return job ? { ...JobSchema.parse(job.data), id: job.id } : null;
  }

  async finish(id: string): Promise<void> {
    await this.boss.complete(MARKING, id);
  }

  /** Gives a job back with what went wrong; it is tried again, in the end given up. */
  async giveBack(id: string, why: string): Promise<void> {
    await this.boss.fail(MARKING, id, { why });
  }

  /** Gives jobs that were taken too long ago to others now; else that happens every {@link LOOKED_EVERY} seconds. */
  async giveLostToOthers(): Promise<void> {
    await this.boss.expire();
  }

  /** How many jobs wait or are being worked on. */
  async open(): Promise<number> {
    return this.boss.getQueueSize(MARKING, { before: 'completed' });
  }

  async close(): Promise<void> {
    await this.boss.stop({ graceful: false, close: false });
  }
}

/** The same job has the same id, whoever puts it. */
function idOf(job: Job): string {
  const hex = createHash('sha256')
    .update(JSON.stringify([job.marking, job.from, job.upTo]))
    .digest('hex');
  return hex.slice(0, 32).replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

/** Runs a statement of pg-boss, some of which are several, with a transaction of their own, on one connection. */
function executeOn(db: Kysely<Tables>, text: string, values: unknown[] = []): Promise<{ rows: unknown[] }> {
  return db.connection().execute(async (one) => {
    try {
      return await execute(one, text, values);
    } catch (error) {
      // One that failed half-way would leave its transaction open to whoever gets the connection next.
      if (/^\s*begin\b/i.test(text)) await one.executeQuery(CompiledQuery.raw('rollback'));
      throw error;
    }
  });
}

async function execute(
  db: Kysely<Tables>,
  text: string,
  values: unknown[] = [],
): Promise<{ rows: unknown[] }> {
  const { rows } = await db.executeQuery(CompiledQuery.raw(text, values));
  return { rows };
}
