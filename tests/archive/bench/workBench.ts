/**
 * `npm run bench:archive-work`: marks attempts with real journals again on a PostgreSQL server of its own: with 1, 2 and 4 worker processes, one after
 * the other, and then with three of which ten are killed. It counts how often each attempt was marked.
 */
import { spawn, type ChildProcess } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { once } from 'node:events';
import { readFile } from 'node:fs/promises';
import { setTimeout } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { sql } from 'kysely';
import { openArchive, type Archive } from '../../../app/archive/store/connection.ts';
import { progressOf } from '../../../app/archive/work/progress.ts';
import { putMarking } from '../../../app/archive/work/putting.ts';
import { Queue, TAKEN_FOR } from '../../../app/archive/work/queue.ts';
import { startPostgres } from '../postgres.ts';
import { makeSchool, madeSents, programs } from '../takenSchool.ts';
import { numbersFrom } from '../madeJournals.ts';

const { values } = parseArgs({
  options: {
    attempts: { type: 'string', default: '5000' },
    kills: { type: 'string', default: '10' },
  },
});
const say = (text: string): void => void process.stdout.write(`${text}\n`);

/** Attempts that are taken in; the others are copies of them. */
const TAKEN = 200;
/** Milliseconds between two kills at most. */
const KILLED_WITHIN = 4_000;

/** Ticks of a second in which /proc counts processor time. */
const TICKS = 100;

const server = await startPostgres();
const database = await server.newDatabase();
const archive = await openArchive({ database });
const workers = new Set<ChildProcess>();
try {
  const bytes = await makeAttempts(archive, Number(values.attempts));
  say(
    `${values.attempts} attempts; a journal has ${bytes.text} bytes, ${bytes.kept} as the database keeps it`,
  );
  await noteWrites(archive);
  for (const n of [1, 2, 4]) await measure(n);
  await measureKills(3, Number(values.kills));
} finally {
  for (const worker of workers) worker.kill('SIGKILL');
  await archive.close();
  await server.stop();
}

async function makeAttempts(archive: Archive, all: number): Promise<{ text: number; kept: number }> {
  const school = await makeSchool(archive, 'One');
  const people = Array.from({ length: 20 }, () => ({ person: randomUUID(), class: 'First' }));
  await school.take(madeSents(people, TAKEN / people.length, 0));
  const copies = Math.ceil(all / TAKEN) - 1;
  return archive.as({ role: 'keeper' }, async (db) => {
    await sql`
      insert into attempts (school_id, station_id, class_id, person_id, record, sha256, skill, version, started_at, seconds, engine, passed,
        heard, of, critical_missed, marked_by, signed_off, agreed_to_sound)
      select school_id, station_id, class_id, person_id, record || '-' || n, encode(sha256((sha256 || n)::bytea), 'hex'), skill, version,
        started_at + n * interval '1 minute', seconds, engine, passed, heard, of, critical_missed, marked_by, signed_off, agreed_to_sound
      from attempts, generate_series(1, ${copies}::int) n`.execute(db);
    await sql`
      insert into journals (attempt_id, events, review)
      select c.id, j.events, j.review from attempts c
      join attempts a on c.record like a.record || '-%' and a.id <> c.id join journals j on j.attempt_id = a.id
      on conflict do nothing`.execute(db);
    const { rows } = await sql<{ text: number; kept: number }>`
      select avg(octet_length(events))::int as text, avg(pg_column_size(events))::int as kept from journals`.execute(
      db,
    );
    return rows[0] ?? { text: 0, kept: 0 };
  });
}

/** Notes each time that an attempt's marks are written and kept. */
async function noteWrites({ db }: Archive): Promise<void> {
  await sql`create table written (attempt_id bigint not null)`.execute(db);
  await sql`grant insert on written to sinkside_worker`.execute(db);
  await sql`
    create function note_written() returns trigger language plpgsql as $$
    begin insert into written values (new.id); return null; end $$`.execute(db);
  await sql`
    create trigger note_written after update of marked_by on attempts for each row execute function note_written()`.execute(
    db,
  );
}

/** Seconds of processor that a process has had: unlike the rate, they do not depend on what else runs (Linux, proc(5)). */
async function processorOf({ pid }: ChildProcess): Promise<number> {
  const stat = await readFile(`/proc/${pid}/stat`, 'utf8').catch(() => '');
  const [user = 0, system = 0] = stat.slice(stat.lastIndexOf(')')).split(' ').slice(12, 14).map(Number);
  return (user + system) / TICKS;
}

/** A worker as a school starts one; it ends when nothing is left. */
function startWorker(): ChildProcess {
  const args = ['app/cli/sinkside.mjs', 'archive', 'work', '--until-empty', '--database', database];
  const worker = spawn(process.execPath, args, { stdio: ['ignore', 'ignore', 'inherit'] });
  workers.add(worker);
  worker.once('exit', () => workers.delete(worker));
  return worker;
}

/** Puts all attempts in the queue, as for a program that was not there before, and gives their number. */
async function putAll(markedBy: string): Promise<number> {
  await sql`truncate written`.execute(archive.db);
  const queue = await Queue.open(archive, false, say);
  let attempts = 0;
  for (const { id: skill, version } of programs.skills.values())
    attempts += (await putMarking(archive, queue, { skill, version, markedBy })).attempts;
  await queue.close();
  return attempts;
}

async function doneNow(markedBy: string): Promise<number> {
  const { rows } = await archive.as({ role: 'keeper' }, (db) =>
    sql<{ n: number }>`
      select count(*)::int as n from marked_again g join markings m on m.id = g.marking_id where m.marked_by = ${markedBy}`.execute(
      db,
    ),
  );
  return rows[0]?.n ?? 0;
}

async function measure(n: number): Promise<void> {
  const round = `${n} workers`;
  const attempts = await putAll(round);
  const started = Array.from({ length: n }, startWorker);
  // From the first mark on: starting a process takes seconds, and says nothing of the work.
  while ((await doneNow(round)) === 0) await setTimeout(50);
  const processor = async (): Promise<number> => {
    const each = await Promise.all(started.map(processorOf));
    return each.reduce((sum, seconds) => sum + seconds, 0);
  };
  const from = { at: performance.now(), done: await doneNow(round), processor: await processor() };
  let used = 0;
  while ((await doneNow(round)) < attempts) {
    used = (await processor()) - from.processor;
    await setTimeout(100);
  }
  const seconds = (performance.now() - from.at) / 1000;
  await Promise.all(started.map((worker) => once(worker, 'exit')));
  say(
    `${round}: ${Math.round((60 * (attempts - from.done)) / seconds)} attempts a minute (${seconds.toFixed(1)} s), ${Math.round((1000 * used) / (attempts - from.done))} ms of processor an attempt`,
  );
  say(`  ${await timesSay(attempts)}`);
}

/** The process that has marked last: it is most likely at it. */
async function lastAtWork(markedBy: string): Promise<number> {
  const { rows } = await archive.as({ role: 'keeper' }, (db) =>
    sql<{ worker: string }>`
      select g.worker from marked_again g join markings m on m.id = g.marking_id where m.marked_by = ${markedBy} order by g.at desc limit 1`.execute(
      db,
    ),
  );
  return Number(rows[0]?.worker.split(' ').at(-1));
}

async function measureKills(n: number, kills: number): Promise<void> {
  const round = `${kills} kills`;
  const attempts = await putAll(round);
  const random = numbersFrom(7);
  for (let i = 0; i < n; i++) startWorker();
  let killed = 0;
  const began = performance.now();
  while ((await doneNow(round)) < attempts) {
    await setTimeout(1_000 + random() * (KILLED_WITHIN - 1_000));
    if (killed < kills) {
      const pid = await lastAtWork(round);
      const one = [...workers].find((worker) => worker.pid === pid);
      if (!one) continue;
      if (one.kill('SIGKILL')) killed++;
      startWorker();
    }
  }
  const seconds = (performance.now() - began) / 1000;
  await Promise.all([...workers].map((worker) => once(worker, 'exit')));
  say(
    `${killed} of ${n} workers killed, each replaced: all done after ${seconds.toFixed(0)} s (a killed one's job is free after ${TAKEN_FOR} s)`,
  );
  say(`  ${await timesSay(attempts)}`);
  say(
    `  the queue has ${(await progressOf(archive)).filter(({ done, of }) => done < of).length} markings left open`,
  );
}

/** How often each attempt's marks were written and kept. */
async function timesSay(attempts: number): Promise<string> {
  const { rows } = await sql<{ times: number; n: number }>`
    select times::int, count(*)::int as n from (select count(*) as times from written group by attempt_id) w group by times order by times`.execute(
    archive.db,
  );
  const reached = rows.reduce((sum, { n }) => sum + n, 0);
  return `${attempts} attempts: ${[`${attempts - reached} never`, ...rows.map(({ times, n }) => `${n} ${times === 1 ? 'once' : `${times} times`}`)].join(', ')}`;
}
