import { execFile } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { DEFAULT_MODEL } from '../../models/catalog.ts';
import { loadModel } from '../../models/load.ts';
import { main } from './main.ts';
import { run as runModels } from './models.ts';
import type { Io } from './io.ts';

let home = '';
beforeEach(() => {
  home = mkdtempSync(path.join(tmpdir(), 'sinkside-cli-'));
  vi.stubEnv('SINKSIDE_MODELS', home);
});
afterEach(() => {
  vi.unstubAllEnvs();
  rmSync(home, { recursive: true });
});

function listening(isTerminal = false): { io: Io; said: { out: string; err: string } } {
  const said = { out: '', err: '' };
  return { said, io: { out: (text) => (said.out += text), err: (text) => (said.err += text), isTerminal } };
}

async function call(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const { io, said } = listening();
  const code = await main(args, io);
  return { code, ...said };
}

describe('sinkside', () => {
  it.each([
    [[]],
    [['dance']],
    [['constructor']],
    [['models']],
    [['models', 'list', 'more']],
    [['models', 'get', DEFAULT_MODEL, 'more']],
    [['models', 'remove']],
    [['models', 'list', '--fast']],
  ])('used wrongly, as %j, shows how it is used and ends with 2', async (args) => {
    const { code, out, err } = await call(...args);
    expect(code).toBe(2);
    expect(out).toBe('');
    expect(err).toContain('Usage: sinkside');
  });

  it.each([[['--help']], [['models', '--help']]])(
    'asked for help, as %j, gives it on standard output',
    async (args) => {
      expect(await call(...args)).toMatchObject({
        code: 0,
        err: '',
        out: expect.stringContaining('Usage: sinkside'),
      });
    },
  );

  it('names the models there are when it is given another', async () => {
    const { code, err } = await call('models', 'get', 'nonsense');
    expect(code).toBe(2);
    expect(err).toContain(DEFAULT_MODEL);
  });

  it('can be called by npx from the root of the project', async () => {
    const root = fileURLToPath(new URL('../..', import.meta.url));
    const { stdout } = await promisify(execFile)('npx', ['--no', 'sinkside', 'models', 'list'], {
      cwd: root,
    });
    expect(stdout).toContain(`${DEFAULT_MODEL}  moonshine`);
  });
});

describe('sinkside models', () => {
  it('lists, verifies and removes', async () => {
    const { out } = await call('models', 'list');
    expect(out.match(/^(\S+) .*: not installed, the default$/m)?.[1]).toBe(DEFAULT_MODEL);
    expect(out.match(/the default$/gm)?.length).toBe(1);
    expect(await call('models', 'verify')).toMatchObject({ code: 4 });
    expect(await call('models', 'verify', DEFAULT_MODEL)).toMatchObject({
      code: 4,
      out: `${DEFAULT_MODEL}: not installed\n`,
    });
    mkdirSync(path.join(home, DEFAULT_MODEL));
    writeFileSync(path.join(home, DEFAULT_MODEL, 'tokenizer.bin'), 'too short');
    const damaged = await call('models', 'verify', DEFAULT_MODEL);
    expect(damaged).toMatchObject({ code: 4, err: expect.stringContaining(`models get ${DEFAULT_MODEL}`) });
    expect(damaged.out).toContain('tokenizer.bin: wrong size');
    expect(await call('models', 'remove', DEFAULT_MODEL)).toMatchObject({
      code: 0,
      out: `${DEFAULT_MODEL} is removed.\n`,
    });
    expect(existsSync(path.join(home, DEFAULT_MODEL))).toBe(false);
    expect((await call('models', 'remove', DEFAULT_MODEL)).out).toContain('was not installed');
  });

  it.each([
    [false, ['get', DEFAULT_MODEL]],
    [true, ['get']],
  ])(
    'that cannot be got ends with 4 and what to do by hand (terminal: %s, as %j)',
    async (isTerminal, args) => {
      const { io, said } = listening(isTerminal);
      const code = await runModels(args, io, (report) => ({
        fetch: () => Promise.reject(new TypeError('fetch failed', { cause: { code: 'ENOTFOUND' } })),
        run: async () => ({ code: null, output: '' }),
        report,
      }));
      expect(code).toBe(4);
      expect(said.err).toMatch(/Tried:[^]*not on this machine[^]*host was not found[^]*By hand/);
      expect(said.out).toBe('');
    },
  );

  const installed = fileURLToPath(new URL(`../../models/installed/${DEFAULT_MODEL}`, import.meta.url));
  it('finds the model that the set-up has placed whole, and the loader takes it', async () => {
    cpSync(installed, path.join(home, DEFAULT_MODEL), { recursive: true });
    expect(await call('models', 'verify', DEFAULT_MODEL)).toMatchObject({ code: 0, err: '' });
    expect((await loadModel('moonshine')).warnings).toEqual([]);
    // The same files in a folder of another name are known by their checksums.
    expect(await loadModel('moonshine', installed)).toMatchObject({ id: DEFAULT_MODEL, warnings: [] });
  });
});
