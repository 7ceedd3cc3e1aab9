import { mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { FolderHeld, holdFolder, type Answer, type LockEffects } from './folderLock.ts';

let folder = '';
/** Which ids answer at which ports, and which processes run. */
let answers: Record<number, Answer> = {};
const running = new Set<number>();
const effects: LockEffects = {
  isRunning: (pid) => running.has(pid),
  ask: async (port) => answers[port] ?? 'gone',
};
const hold = (port: number, id: string): Promise<() => Promise<void>> => {
  answers[port] = { id };
  return holdFolder(folder, port, id, effects);
};
const lock = (): string => path.join(folder, 'in-use.json');
/** A lock that another process made. */
const leave = (port: number, pid: number): Promise<void> =>
  writeFile(lock(), JSON.stringify({ id: 'other', pid, port, startedAt: '2026-01-31T09:30:00.000Z' }));

beforeEach(async () => {
  folder = path.join(await mkdtemp(path.join(tmpdir(), 'sinkside-lock-')), 'data');
  await mkdir(folder);
  answers = {};
  running.clear();
  running.add(process.pid);
});
afterEach(() => rm(path.dirname(folder), { recursive: true }));

describe('a data folder', () => {
  it('is held by one program, which says who it is, until it gives it free', async () => {
    const release = await hold(4517, 'first');
    expect(JSON.parse(await readFile(lock(), 'utf8'))).toMatchObject({
      id: 'first',
      pid: process.pid,
      port: 4517,
    });
    const held = await hold(4518, 'second').catch((error: unknown) => error);
    expect(held).toBeInstanceOf(FolderHeld);
    expect(held).toMatchObject({ url: 'http://127.0.0.1:4517/', answers: true });
    expect((held as Error).message).toMatch(new RegExp(`in use by process ${process.pid}, since 20..-`));
    await release();
    expect(await readdir(folder)).toEqual([]);
    await (
      await hold(4518, 'second')
    )();
  });

  it.each([
    ['whose process is gone', undefined, 7],
    ['whose port is answered by nobody', undefined, 8],
    ['whose port is answered by another program', { id: 'somebody' }, 8],
  ] as const)('with a lock %s is taken over', async (_, answer, pid) => {
    running.add(8);
    await leave(4520, pid);
    if (answer) answers[4520] = answer;
    await hold(4517, 'next');
    expect(await readdir(folder)).toEqual(['in-use.json']);
    expect(await readFile(lock(), 'utf8')).toContain('"next"');
  }); // prettier-ignore

  it('with a lock that is damaged is taken over', async () => {
    for (const text of ['', '{"id":', '{"id":"x"}']) {
      await writeFile(lock(), text);
      await (
        await hold(4517, 'next')
      )();
    }
  });

  it('whose holder runs and does not answer stays held, and who must be ended is said', async () => {
    running.add(8);
    await leave(4520, 8);
    answers[4520] = 'silent';
    await expect(hold(4517, 'next')).rejects.toMatchObject({ answers: false, message: expect.stringMatching(/end that process/) });
    expect(await readFile(lock(), 'utf8')).toContain('"other"');
  }); // prettier-ignore

  it('with a lock left by a crash goes to one of many that start at once', async () => {
    for (let round = 0; round < 5; round++) {
      await leave(4520, 7);
      const tries = Array.from({ length: 12 }, (_, n) => hold(5000 + n, `${round}/${n}`));
      const settled = await Promise.allSettled(tries);
      const won = settled.flatMap((each) => (each.status === 'fulfilled' ? [each.value] : []));
      expect(won).toHaveLength(1);
      for (const each of settled)
        if (each.status === 'rejected') expect(each.reason).toBeInstanceOf(FolderHeld);
      await won[0]!();
      expect(await readdir(folder)).toEqual([]);
    }
  });

  it('is not given free by who lost it', async () => {
    const release = await hold(4517, 'first');
    await leave(4520, 8);
    await release();
    expect(await readFile(lock(), 'utf8')).toContain('"other"');
  });
});
