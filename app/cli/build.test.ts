import { mkdir, mkdtemp, rm, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { isStale } from './build.ts';

let folder = '';
const at = (name: string): string => path.join(folder, name);
const write = async (name: string, second: number): Promise<void> => {
  await mkdir(path.dirname(at(name)), { recursive: true });
  await writeFile(at(name), '');
  await utimes(at(name), second, second);
};
const stale = async (): Promise<boolean> => {
  for (const name of ['src/deep', 'src']) await utimes(at(name), 1, 1);
  return isStale(at('built/index.html'), [at('src'), at('one.ts'), at('not-there.ts')]);
};

beforeEach(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-build-'));
  await write('src/deep/a.ts', 10);
  await write('one.ts', 10);
});
afterEach(() => rm(folder, { recursive: true }));

it('what is not built is to be built', async () => {
  expect(await stale()).toBe(true);
});

it('what is younger than its sources is left; a younger source, deep down or alone, makes it stale', async () => {
  await write('built/index.html', 20);
  expect(await stale()).toBe(false);
  await write('src/deep/a.test.ts', 30);
  expect(await stale()).toBe(false);
  await write('src/deep/a.ts', 30);
  expect(await stale()).toBe(true);
  await write('src/deep/a.ts', 10);
  await write('one.ts', 30);
  expect(await stale()).toBe(true);
});

it('a file taken away makes it stale', async () => {
  await write('built/index.html', 20);
  await stale();
  await rm(at('src/deep/a.ts'));
  expect(await isStale(at('built/index.html'), [at('src')])).toBe(true);
});
