import { execFile, execFileSync, spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { readdirSync } from 'node:fs';
import { chown, mkdtemp, rm } from 'node:fs/promises';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import pg from 'pg';

/** Where Debian has the servers' programs, one folder a version. */
const VERSIONS = '/usr/lib/postgresql';
/** Who the archive signs in as: no superuser, for those no policy holds. It may make the archive's roles. */
const USER = 'archive';
const SUPERUSER = 'keeper_of_tests';
/** Milliseconds that the server is given to start. */
const STARTS_WITHIN = 20_000;

/** A PostgreSQL server of the test's own, in a folder that is gone afterwards. */
export interface Postgres {
  /** The folder of its programs, such as pg_dump. */
  readonly programs: string;
  /** Makes an empty database and gives its address. */
  newDatabase(): Promise<string>;
  /** The same database for a superuser, whom no policy holds: to make what only a test makes. */
  asSuperuser(address: string): string;
  /** Ends all at once, as a crash does; {@link Postgres.start} starts it again. */
  crash(): Promise<void>;
  start(): Promise<void>;
  stop(): Promise<void>;
}

/**
 * Starts a server.
 *
 * @param isDurable whether what is committed outlives a crash of the machine; slower
 * @param more settings of the server, such as its memory
 */
export async function startPostgres({
  isDurable = false,
  more = {},
}: { isDurable?: boolean; more?: Readonly<Record<string, string>> } = {}): Promise<Postgres> {
  const programs = programsOf();
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-postgres-'));
  // It refuses to run as root.
  const user = process.getuid?.() === 0 ? userNamed('postgres') : null;
  if (user) await chown(folder, user.uid, user.gid);
  const data = path.join(folder, 'data');
  const init = ['-D', data, '-U', SUPERUSER, '--auth=trust', '--no-sync', '-E', 'UTF8', '--locale=C.UTF-8'];
  await promisify(execFile)(path.join(programs, 'initdb'), init, { ...user, cwd: folder });
  const port = await freePort();
  const settings = {
    listen_addresses: '127.0.0.1',
    port,
    unix_socket_directories: folder,
    max_connections: 200,
    ...(!isDurable && { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off' }),
    ...more,
  };
  const args = Object.entries(settings).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const addressOf = (name: string, who: string): string => `postgres://${who}@127.0.0.1:${port}/${name}`;
  const ask = (sql: string): Promise<void> => asking(addressOf('postgres', SUPERUSER), sql);
  let server: ChildProcess | undefined;
  const end = async (signal: 'SIGINT' | 'SIGQUIT' | 'SIGKILL'): Promise<void> => {
    const running = server;
    server = undefined;
    if (!running || running.exitCode !== null) return;
    running.kill(signal);
    await once(running, 'exit');
  };
  process.once('exit', () => server?.kill('SIGQUIT'));
  const start = async (): Promise<void> => {
    server = spawn(path.join(programs, 'postgres'), ['-D', data, ...args], {
      ...user,
      cwd: folder,
      stdio: 'ignore',
    });
    await untilReady(() => ask('select 1'));
  };
  await start();
  await ask(`create role ${USER} login createrole`);
  let databases = 0;
  return {
    programs,
    newDatabase: async () => {
      const name = `test_${++databases}`;
      await ask(`create database ${name} owner ${USER}`);
      return addressOf(name, USER);
    },
    asSuperuser: (address) => address.replace(`${USER}@`, `${SUPERUSER}@`),
    crash: () => end('SIGQUIT'),
    start,
    stop: async () => {
      await end('SIGINT');
      await rm(folder, { recursive: true, force: true });
    },
  };
}

function programsOf(): string {
  const [newest] = readdirSync(VERSIONS).sort((a, b) => Number(b) - Number(a));
  if (newest === undefined) throw new Error(`No PostgreSQL lies in ${VERSIONS}: run node tests/setup.mjs.`);
  return path.join(VERSIONS, newest, 'bin');
}

function userNamed(name: string): { uid: number; gid: number } {
  const id = (which: string): number => Number(execFileSync('id', [which, name], { encoding: 'utf8' }));
  return { uid: id('-u'), gid: id('-g') };
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return port;
}

async function asking(address: string, sql: string): Promise<void> {
  const client = new pg.Client({ connectionString: address });
  await client.connect();
  try {
    await client.query(sql);
  } finally {
    await client.end();
  }
}

async function untilReady(ask: () => Promise<void>): Promise<void> {
  const late = performance.now() + STARTS_WITHIN;
  for (;;)
    try {
      return await ask();
    } catch (error) {
      if (performance.now() > late) throw error;
      await new Promise((done) => setTimeout(done, 50));
    }
}
