import { execFile, spawn, type ChildProcess } from 'node:child_process';
import { mkdtemp, readFile, rm, utimes } from 'node:fs/promises';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { parse } from 'yaml';
import { z } from 'zod';
import { StatusSchema } from '../../../app/archive/keeping/status.ts';
import { EnrolmentSchema } from '../../../app/archive/serving/peopleApi.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { PeopleFile } from '../../../app/people/peopleFile.ts';
import { Rehearsals } from '../../../app/records/rehearsals.ts';
import { startPostgres } from '../postgres.ts';
import { playedNarrations } from '../stations/rehearsed.ts';

/*
 * `npm run bench:archive-setup`: what deploy/compose.yml sets up, as plain processes with the very commands that stand there: PostgreSQL,
 * the archive, two workers. A station is enrolled and sends, all is marked again, backed up and restored; each with the terminal program.
 */

const ROOT = fileURLToPath(new URL('../../..', import.meta.url));
const SINKSIDE = path.join(ROOT, 'app/cli/sinkside.mjs');
const REHEARSALS = 12;

const ComposeSchema = z.object({
  services: z.record(z.string(), z.object({ command: z.array(z.string()).optional() })),
});
const compose = ComposeSchema.parse(
  parse(await readFile(path.join(ROOT, 'deploy/compose.yml'), 'utf8'), { merge: true }),
);

const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-setup-'));
const postgres = await startPostgres();
const running: ChildProcess[] = [];

type Environment = Readonly<Record<string, string>>;
async function sinkside(env: Environment, ...args: string[]): Promise<string> {
  const { stdout } = await promisify(execFile)(process.execPath, [SINKSIDE, ...args], {
    env: { ...process.env, ...env },
  });
  return stdout.trim();
}

function serve(env: Environment, args: readonly string[]): void {
  running.push(
    spawn(process.execPath, [SINKSIDE, ...args], {
      env: { ...process.env, ...env },
      stdio: ['ignore', 'ignore', 'inherit'],
    }),
  );
}

function must(isSo: boolean, what: string): void {
  if (!isSo) throw new Error(`It is not so that ${what}.`);
  console.log(`✓ ${what}`);
}

async function freePort(): Promise<string> {
  const server = createServer();
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done));
  const { port } = server.address() as AddressInfo;
  await new Promise((done) => server.close(done));
  return String(port);
}

const commandOf = (service: string, port: string): string[] =>
  (compose.services[service]?.command ?? []).map((word) => (word === '4518' ? port : word));

/** A data folder in which somebody who agreed to sending has rehearsed, some time ago. */
async function station(data: string): Promise<void> {
  const people = new PeopleFile(data);
  const { id } = await people.add({ name: 'Kim Quillfeather', class: 'Spring' });
  await people.decide(id, true, Date.parse('2026-01-01T00:00:00Z'), true);
  const rehearsals = new Rehearsals(data, await openLibrary());
  const [played] = await playedNarrations(1);
  if (!played) throw new Error('No narration lies beside the skills.');
  const events = played.lines
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line));
  for (let n = 0; n < REHEARSALS; n++) {
    const { skill, version, variants } = played;
    const startedAt = new Date(Date.parse('2026-02-01T08:00:00Z') + n * 3_600_000).toISOString();
    const begun = {
      skill,
      version,
      variants,
      style: 'coach',
      engine: 'made/narrated',
      startedAt,
      trainee: id,
    } as const;
    const made = await rehearsals.create(begun);
    await rehearsals.addEvents(made.id, 0, events, made.writer);
    const then = new Date(startedAt);
    for (const name of ['journal.jsonl', 'sound.wav'])
      await utimes(path.join(rehearsals.root, made.id, name), then, then);
  }
  await rehearsals.close();
}

try {
  const archive: Environment = {
    SINKSIDE_DATA: path.join(folder, 'archive'),
    SINKSIDE_DATABASE: await postgres.newDatabase(),
  };
  const port = await freePort();
  const address = `http://127.0.0.1:${port}`;
  const token = await sinkside(
    archive,
    'archive',
    'account',
    'add',
    '--school',
    'School of the Hill',
    '--name',
    'Ms. Head',
  );
  serve(archive, commandOf('archive', port));
  serve(archive, commandOf('worker', port));
  serve(archive, commandOf('worker', port));
  while (
    !(await fetch(address).then(
      () => true,
      () => false,
    ))
  )
    await pause(200);
  console.log('✓ the archive and two workers run, by the commands of deploy/compose.yml');

  const authorization = `Bearer ${token}`;
  const enrolled = await fetch(`${address}/api/enrolments`, {
    method: 'POST',
    headers: { authorization, 'content-type': 'application/json' },
    body: JSON.stringify({ stationName: 'Sink 4' }),
  });
  const { code } = EnrolmentSchema.parse(await enrolled.json());
  const data = path.join(folder, 'station');
  await station(data);
  await sinkside({ SINKSIDE_DATA: data }, 'station', 'enrol', address, code);
  const said = await sinkside({ SINKSIDE_DATA: data }, 'station', 'send');
  must(said.startsWith(`Sent ${REHEARSALS}.`), `the station has sent ${REHEARSALS} rehearsals`);

  const status = async (env: Environment): Promise<z.infer<typeof StatusSchema>> =>
    StatusSchema.parse(JSON.parse(await sinkside(env, 'archive', 'status', '--json')));
  must((await status(archive)).attempts.count === REHEARSALS, 'the archive has them');
  await sinkside(archive, 'archive', 'remark', '--all');
  const begun = performance.now();
  for (let left = 1; left > 0;) {
    const { queue } = await status(archive);
    left = queue.waiting + queue.active;
    if (queue.failed > 0 || performance.now() - begun > 180_000)
      throw new Error(`The queue stands at ${JSON.stringify(queue)}.`);
  }
  console.log('✓ the workers have emptied the queue');

  const backup = await sinkside(archive, 'archive', 'backup');
  must((await status(archive)).backups.count === 1, 'there is a backup');
  const again: Environment = {
    SINKSIDE_DATA: path.join(folder, 'again'),
    SINKSIDE_DATABASE: await postgres.newDatabase(),
  };
  await sinkside(again, 'archive', 'restore', backup);
  must((await status(again)).attempts.count === REHEARSALS, 'it was restored into another database');
  const embedded: Environment = { SINKSIDE_DATA: path.join(folder, 'embedded'), SINKSIDE_DATABASE: '' };
  await sinkside(embedded, 'archive', 'restore', backup);
  const target = await postgres.newDatabase();
  await sinkside(embedded, 'archive', 'move', '--database', target);
  const moved = { ...embedded, SINKSIDE_DATABASE: target };
  must(
    (await status(moved)).attempts.count === REHEARSALS,
    'restored into a folder, it was moved into a server',
  );
  const refused = await sinkside(embedded, 'archive', 'status').then(
    () => '',
    (error: { stderr?: string }) => error.stderr ?? '',
  );
  must(/was moved/.test(refused), 'the one in the folder says that it was moved');
} finally {
  for (const child of running) child.kill('SIGTERM');
  await pause(1000);
  for (const child of running) child.kill('SIGKILL');
  await postgres.stop();
  await rm(folder, { recursive: true, force: true });
}
process.exit(0);
