import { setTimeout } from 'node:timers/promises';
import { markOne, type Fate, type Marks } from './markOne.ts';
import type { Queue, TakenJob } from './queue.ts';

/** Milliseconds between two looks into a queue that was empty. */
const LOOKS_EVERY = 1_000;

export interface WorkOptions {
  /** Ends as soon as nothing waits, instead of looking again. */
  readonly untilEmpty: boolean;
  /** Ends after the attempt that is being marked; the rest of its job is left to others. */
  readonly signal: AbortSignal;
  readonly tell: (text: string) => void;
}

/** How many attempts a worker has come to, by what became of them. */
export type Done = Readonly<Record<Fate, number>>;

/** Takes jobs from the queue, one after the other, and marks their attempts. Any number of processes may do so at once. */
export async function work(
  marks: Marks,
  queue: Queue,
  { untilEmpty, signal, tell }: WorkOptions,
): Promise<Done> {
  const done = { changed: 0, same: 0, 'left out': 0, already: 0, gone: 0 };
  while (!signal.aborted) {
    const job = await queue.take();
    if (!job) {
      if (untilEmpty && (await queue.open()) === 0) break;
      await setTimeout(LOOKS_EVERY, undefined, { signal }).catch(() => undefined);
      continue;
    }
    try {
      const fates = await doJob(marks, job, signal);
      for (const fate of fates) done[fate]++;
      if (signal.aborted) await queue.giveBack(job.id, 'The worker was ended.');
      else await queue.finish(job.id);
    } catch (error) {
      const { message } = error as Error;
      tell(`Attempts ${job.from} to ${job.upTo} could not all be marked: ${message}`);
      await queue.giveBack(job.id, message);
    }
  }
  return done;
}

async function doJob(marks: Marks, job: TakenJob, signal: AbortSignal): Promise<Fate[]> {
  const found = await attemptsOf(marks, job);
  const fates: Fate[] = [];
  for (const attempt of found.attempts) {
    if (signal.aborted) break;
    fates.push(await markOne(marks, found.marking, attempt));
  }
  return fates;
}

/** The marking of a job, and its attempts that this marking has not reached. */
function attemptsOf({ archive }: Marks, { marking, from, upTo }: TakenJob) {
  return archive.as({ role: 'worker' }, async (db) => {
    const asked = await db
      .selectFrom('markings')
      .select(['id', 'skill', 'version'])
      .where('id', '=', marking)
      .executeTakeFirstOrThrow();
    const rows = await db
      .selectFrom('attempts')
      .select('id')
      .where('skill', '=', asked.skill)
      .where('id', '>=', from)
      .where('id', '<=', upTo)
      .where('version', 'is not', null)
      .where(({ not, exists, selectFrom }) =>
        not(
          exists(
            selectFrom('marked_again')
              .select('at')
              .where('marking_id', '=', marking)
              .whereRef('attempt_id', '=', 'attempts.id'),
          ),
        ),
      )
      .orderBy('id')
      .execute();
    return { marking: asked, attempts: rows.map(({ id }) => id) };
  });
}
