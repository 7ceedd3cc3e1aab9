import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { NoBuilder } from './build.ts';
import { SkillFolder } from '../library/skillFolder.ts';
import { startHost } from '../host/server.ts';
import { run, type RoomEffects } from './room.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'sinkside-room-'));
  vi.stubEnv('SINKSIDE_DATA', folder);
});
afterEach(() => {
  vi.unstubAllEnvs();
  rmSync(folder, { recursive: true });
});

async function room(
  args: string[],
  some: Partial<RoomEffects> = {},
): Promise<{ code: number; out: string; err: string; opened: string[] }> {
  const said = { out: '', err: '' };
  const opened: string[] = [];
  const io = {
    out: (text: string) => void (said.out += text),
    err: (text: string) => void (said.err += text),
    isTerminal: false,
  };
  const code = await run(args, io, {
    build: async () => undefined,
    open: (url) => opened.push(url),
    untilStopped: async () => undefined,
    ...some,
  });
  return { code, ...said, opened };
}

it('serves until it is stopped, tells its address and opens it', async () => {
  let answered = 0;
  const opened: string[] = [];
  const { code, out } = await room(['--port', '0'], {
    open: (url) => opened.push(url),
    untilStopped: async () => {
      // The address is opened in the same turn, right after the signals are waited for.
      await Promise.resolve();
      answered = (await fetch(new URL('/api/library', opened[0]))).status;
    },
  });
  expect([code, answered]).toEqual([0, 200]);
  expect(out).toContain(`The rehearsal room is open at ${opened[0]}`);
  expect(out).toMatch(/is closed\.\n$/);
  await expect(fetch(opened[0]!)).rejects.toThrow();
});

it('only prints the address with --no-open', async () => {
  const { opened, out } = await room(['--port', '0', '--no-open']);
  expect(opened).toEqual([]);
  expect(out).toMatch(/http:\/\/127\.0\.0\.1:\d+\//);
});

it.each([['70000'], ['x'], ['1.5'], ['-1']])('port %s is none', async (port) => {
  expect(await room([`--port=${port}`])).toMatchObject({ code: 2, err: /is no port/ });
});

it('a port that is taken is said to be', async () => {
  const other = createServer();
  await new Promise<void>((done) => other.listen(0, '127.0.0.1', done));
  const { port } = other.address() as AddressInfo;
  expect(await room([`--port=${port}`])).toMatchObject({ code: 2, err: /is taken/ });
  other.close();
});

it('a bad folder of skills, or screens that cannot be built, end it with what to do', async () => {
  expect(await room(['--skills', path.join(folder, 'none')])).toMatchObject({
    code: 3,
    err: /no such folder/,
  });
  const build = () => Promise.reject(new NoBuilder('vite is missing. Run: npm ci'));
  expect(await room(['--port', '0'], { build })).toMatchObject({ code: 3, err: /npm ci/ });
});

it('where a room is open already opens that one, and says who has it', async () => {
  const first = await startHost({ data: folder, skills: await SkillFolder.open(folder), renderer: folder, port: 0, warn: () => undefined });
  const second = await room(['--port', '0']);
  expect([second.code, second.opened]).toEqual([0, [first.url]]);
  expect(second.out).toBe(`The rehearsal room is open already at ${first.url}\n`);
  expect(second.err).toContain(`in use by process ${process.pid}, since `);
  expect((await room(['--port', '0', '--no-open'])).opened).toEqual([]);
  await first.close();
}); // prettier-ignore
