import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { sql } from 'kysely';
import { FileParts } from '../../../app/archive/parts/fileParts.ts';
import { openArchive, type Archive as Store } from '../../../app/archive/store/connection.ts';
import { startPostgres } from '../postgres.ts';
import { madeSound, playedNarrations } from './rehearsed.ts';
import { shakyLine } from './shakyLine.ts';
import { enter, newCounts, runStation, wrongIn, type Counts, type Simulated } from './simulation.ts';

const USAGE = `npm run bench:archive-stations -- [--stations 100,500,2000] [--attempts 2000] …

Simulated stations send made rehearsals to "sinkside archive serve" on a PostgreSQL server of its own, over lines that break off, while the
archive is killed again and again. Prints the rate for each number of stations, and says whether anything was lost or came twice.

  --stations N,…     how many stations, one run each (2000)
  --attempts N       how many rehearsals all of them have together (100000)
  --schools N        how many schools they belong to (40)
  --at-once N        how many of them send at the same time (24)
  --sound-each N     one rehearsal in N has three seconds of sound (10); 0 for none
  --shaky SHARE      connections that break off, each after at most 100 kB (.3)
  --kill-every S     seconds after which the archive is killed (60); 0 for never
  --seed N           what the mishaps are drawn from (7)
`;

const SINKSIDE = fileURLToPath(new URL('../../../app/cli/sinkside.mjs', import.meta.url));

const { values } = parseArgs({
  options: {
    stations: { type: 'string', default: '2000' },
    attempts: { type: 'string', default: '100000' },
    schools: { type: 'string', default: '40' },
    'at-once': { type: 'string', default: '24' },
    'sound-each': { type: 'string', default: '10' },
    shaky: { type: 'string', default: '.3' },
    'kill-every': { type: 'string', default: '60' },
    seed: { type: 'string', default: '7' },
    help: { type: 'boolean', default: false },
  },
});
if (values.help) {
  console.log(USAGE);
  process.exit(0);
}

/** Mulberry32 by Tommy Ettinger (public domain; from memory): the same numbers for the same seed. */
function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done));
  const { port } = server.address() as AddressInfo;
  await new Promise((done) => server.close(done));
  return port;
}

/** The archive as a process, which is killed every so often and started again. */
async function servedArchive(database: string, parts: string, killEvery: number) {
  const port = await freePort();
  let child: ChildProcess;
  let kills = 0;
  let isOver = false;
  const start = (): void => {
    const args = [SINKSIDE, 'archive', 'serve', '--port', String(port), '--parts', parts];
    const env = { ...process.env, SINKSIDE_DATABASE: database };
    child = spawn(process.execPath, args, { env, stdio: ['ignore', 'ignore', 'inherit'] });
  };
  const answers = async (): Promise<void> => {
    while (
      !(await fetch(`http://127.0.0.1:${port}/`).then(
        () => true,
        () => false,
      ))
    )
      await pause(100);
  };
  start();
  await answers();
  const killing = async (): Promise<void> => {
    while (killEvery > 0 && !isOver) {
      await pause(killEvery * 1000, undefined, { ref: false });
      if (isOver) return;
      kills += 1;
      child.kill('SIGKILL');
      await pause(500);
      start();
      await answers();
    }
  };
  void killing();
  return {
    port,
    kills: () => kills,
    stop: () => {
      isOver = true;
      child.kill('SIGKILL');
    },
  };
}

async function inTurns(
  stations: readonly Simulated[],
  atOnce: number,
  work: (station: Simulated, n: number) => Promise<void>,
): Promise<void> {
  let next = 0;
  const worker = async (): Promise<void> => {
    for (let n = next++; n < stations.length; n = next++) {
      const station = stations[n];
      if (station) await work(station, n);
    }
  };
  await Promise.all(Array.from({ length: atOnce }, worker));
}

async function databaseBytes(store: Store): Promise<number> {
  // What was updated is not counted twice.
  await sql`vacuum`.execute(store.db);
  const { rows } = await sql<{
    bytes: string;
  }>`select pg_database_size(current_database())::text as bytes`.execute(store.db);
  return Number(rows[0]?.bytes);
}

const percentile = (sorted: readonly number[], share: number): string =>
  `${Math.round(1000 * (sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0))} ms`;

function tell(stations: number, attempts: number, took: number, counts: Counts, more: string): void {
  const { sends, answers, brokenOff, said, seconds } = counts;
  seconds.sort((a, b) => a - b);
  console.log(
    [
      `${stations} stations, ${attempts} rehearsals: ${took.toFixed(0)} s, ${(attempts / took).toFixed(1)} a second`,
      `  sent ${sends} times, answered ${answers}; rounds broken off: ${brokenOff}`,
      `  taken ${said.taken}, already there ${said.already}, replaced ${said.replaced}, refused ${said.refused}`,
      `  an answer took ${percentile(seconds, 0.5)} (p50), ${percentile(seconds, 0.95)} (p95)`,
      `  ${more}`,
    ].join('\n'),
  );
}

async function simulate(stations: number): Promise<boolean> {
  const number = (name: keyof typeof values): number => Number(values[name]);
  const attempts = number('attempts');
  const schools = number('schools');
  const soundEach = number('sound-each');
  const random = randomFrom(number('seed'));
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-stations-'));
  const postgres = await startPostgres({ isDurable: true });
  const database = await postgres.newDatabase();
  const store = await openArchive({ database });
  try {
    const played = await playedNarrations(40);
    const sounds = await Promise.all(
      Array.from({ length: soundEach > 0 ? 50 : 0 }, (_, n) => madeSound(3, n)),
    );
    const simulated = await enter(
      store,
      { schools, stations, attempts, soundEach: Math.max(1, soundEach) },
      played,
      sounds,
    );
    const empty = await databaseBytes(store);
    const parts = path.join(folder, 'parts');
    const archive = await servedArchive(database, parts, number('kill-every'));
    const shakiness = { share: number('shaky'), within: 100_000, random };
    const lines = await Promise.all(
      Array.from({ length: schools }, (_, n) =>
        shakyLine(archive.port, `127.0.${1 + (n >> 7)}.${1 + (n & 127)}`, shakiness),
      ),
    );
    const counts = newCounts();
    const begun = performance.now();
    const told = setInterval(
      () => console.error(`${Math.round((performance.now() - begun) / 1000)} s: ${counts.said.taken} taken`),
      30_000,
    );
    await inTurns(simulated, number('at-once'), (station, n) =>
      runStation(
        station,
        lines[n % schools]?.address ?? '',
        folder,
        { lostLog: 0.1, reviewed: 0.05, random },
        counts,
      ),
    );
    clearInterval(told);
    const took = (performance.now() - begun) / 1000;
    const wrong = await wrongIn(store, new FileParts(parts), simulated);
    const bytes = (await databaseBytes(store)) - empty;
    const broken = lines.reduce((sum, line) => sum + line.broken(), 0);
    tell(
      stations,
      attempts,
      took,
      counts,
      [
        `connections broken off: ${broken}; the archive killed ${archive.kills()} times`,
        `the database grew by ${Math.round(bytes / attempts)} bytes a rehearsal`,
        wrong.length === 0
          ? 'nothing lost, nothing twice, by hash'
          : `WRONG: ${wrong.length}, such as ${wrong.slice(0, 5).join('; ')}`,
      ].join('\n  '),
    );
    archive.stop();
    await Promise.all(lines.map((line) => line.close()));
    return wrong.length === 0;
  } finally {
    await store.close();
    await postgres.stop();
    await rm(folder, { recursive: true, force: true });
  }
}

let isRight = true;
for (const stations of values.stations.split(',').map(Number))
  isRight = (await simulate(stations)) && isRight;
process.exit(isRight ? 0 : 1);
