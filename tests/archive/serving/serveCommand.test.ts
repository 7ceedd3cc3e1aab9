import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { request } from 'node:https';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run as account } from '../../../app/cli/archive/account.ts';
import { run as serve } from '../../../app/cli/archive/serve.ts';
import type { ExitCode } from '../../../app/cli/io.ts';
import { startPostgres, type Postgres } from '../postgres.ts';

let server: Postgres;
let folder = '';
/** The archive's place, for each command. */
let at: string[] = [];
beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-serve-'));
  server = await startPostgres();
  at = ['--folder', folder, '--database', await server.newDatabase()];
});
afterAll(async () => {
  await server.stop();
  await rm(folder, { recursive: true });
});

interface Told {
  out: string;
  err: string;
}
function telling(): { told: Told; io: Parameters<typeof serve>[1] } {
  const told = { out: '', err: '' };
  const io = {
    out: (text: string) => void (told.out += text),
    err: (text: string) => void (told.err += text),
    isTerminal: false,
  };
  return { told, io };
}

const nothing = (): Promise<void> => Promise.resolve();

/** Serves until what is done with its address is done. */
async function serving(
  args: string[],
  work: (url: string) => Promise<void>,
): Promise<Told & { code: ExitCode }> {
  const { told, io } = telling();
  const code = await serve([...at, ...args], io, {
    build: nothing,
    untilStopped: async () => {
      const [, url = ''] = /served at (\S+)/.exec(told.out) ?? [];
      await work(url);
    },
  });
  return { code, ...told };
}

async function add(...args: string[]): Promise<Told & { code: ExitCode }> {
  const { told, io } = telling();
  return { code: await account(['add', ...args, ...at], io), ...told };
}

describe('sinkside archive', () => {
  let token = '';

  it('is not served to others before somebody of a school can answer for it, nor without TLS', async () => {
    const open = await serving(['--host', '0.0.0.0', '--port', '0'], nothing);
    expect([open.code, open.err]).toEqual([2, expect.stringMatching(/--cert and --key/)]);
    const early = await serving(['--behind-proxy', '--port', '0'], nothing);
    expect([early.code, early.err]).toEqual([2, expect.stringMatching(/account add/)]);
    const half = await serving(['--cert', 'x'], nothing);
    expect([half.code, half.err]).toEqual([2, expect.stringMatching(/--cert and --key together/)]);
  });

  it('makes the first account, and tells its token and nothing else', async () => {
    const { code, out, err } = await add('--school', 'North', '--name', 'Nora');
    expect(code).toBe(0);
    expect(out).toMatch(/^[\w-]{43}\n$/);
    expect(err).toMatch(/shown this once/);
    token = out.trim();
    const ina = await add('--school', 'North', '--name', 'Ina', '--role', 'instructor', '--class', 'Monday');
    expect(ina.code).toBe(0);
    expect((await add('--school', 'North')).code).toBe(2);
    expect((await add('--school', 'North', '--name', 'X', '--role', 'keeper')).code).toBe(2);
  });

  it('is served to this machine by default, to who has the token', async () => {
    const { code } = await serving(['--port', '0'], async (url) => {
      expect(url).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/$/);
      const response = await fetch(new URL('/api/me', url), {
        headers: { authorization: `Bearer ${token}` },
      });
      expect(await response.json()).toEqual({ role: 'school', name: 'Nora', school: 'North' });
      const classes = await fetch(new URL('/api/classes', url), {
        headers: { authorization: `Bearer ${token}` },
      });
      expect(await classes.json()).toMatchObject([{ name: 'Monday' }]);
    });
    expect(code).toBe(0);
  });

  it('is served over TLS with a certificate', async () => {
    const [cert, key] = [path.join(folder, 'cert.pem'), path.join(folder, 'key.pem')];
    const make = [
      'req',
      '-x509',
      '-newkey',
      'ec',
      '-pkeyopt',
      'ec_paramgen_curve:P-256',
      '-nodes',
      '-days',
      '2',
    ];
    const names = ['-subj', '/CN=localhost', '-addext', 'subjectAltName=IP:127.0.0.1'];
    await promisify(execFile)('openssl', [...make, ...names, '-keyout', key, '-out', cert]);
    const ca = await readFile(cert);
    const { code } = await serving(
      ['--cert', cert, '--key', key, '--host', '127.0.0.1', '--port', '0'],
      async (url) => {
        expect(url).toMatch(/^https:/);
        const answer = await new Promise<{ status: number | undefined; sts: string | undefined }>(
          (done, failed) => {
            const headers = { authorization: `Bearer ${token}` };
            request(new URL('/api/me', url), { ca, headers }, (response) => {
              response.resume();
              done({ status: response.statusCode, sts: response.headers['strict-transport-security'] });
            })
              .once('error', failed)
              .end();
          },
        );
        expect(answer).toEqual({ status: 200, sts: expect.stringMatching(/max-age/) });
      },
    );
    expect(code).toBe(0);
    const missing = await serving(
      ['--cert', path.join(folder, 'none.pem'), '--key', key, '--port', '0'],
      nothing,
    );
    expect([missing.code, missing.err]).toEqual([2, expect.stringMatching(/none\.pem/)]);
  });

  it('says so where the port is taken, or the database is not there', async () => {
    const { code } = await serving(['--port', '0'], async (url) => {
      const second = await serving(['--port', new URL(url).port], nothing);
      expect([second.code, second.err]).toEqual([2, expect.stringMatching(/give another with --port/)]);
    });
    expect(code).toBe(0);
    const { told, io } = telling();
    const away = ['--folder', folder, '--database', 'postgres://nobody@127.0.0.1:1/none'];
    expect(await serve(away, io, { build: nothing, untilStopped: nothing })).toBe(3);
    expect(told.err).toMatch(/cannot be reached/);
  });
});
