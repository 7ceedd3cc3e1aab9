import { spawn, type SpawnOptions } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, chownSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { openLibrary, type Library } from '../../app/library/library.ts';
import { Rehearsals } from '../../app/records/rehearsals.ts';

/** What becomes of a rehearsal's sound when the program is killed while it packs it, the disk is full, or nothing can be written. */

const PROCESS = fileURLToPath(new URL('packProcess.mjs', import.meta.url));
const NOBODY = 65_534;
/** Half a minute of noise from a seed: it packs badly, and takes a good second. */
const SOUND = Buffer.from(
  Int16Array.from({ length: 480_000 }, (_, i) => ((i * 1_103_515_245 + 12_345) >> 8) % 20_000).buffer,
);

let data = '';
let library: Library;
let rehearsals: Rehearsals;
let id = '';
const folder = (): string => path.join(data, 'rehearsals', id);
const files = (): string[] => readdirSync(folder()).sort();
const UNPACKED = ['journal.jsonl', 'sound.wav', 'writer'];

beforeAll(async () => {
  library = await openLibrary();
});
beforeEach(async () => {
  data = mkdtempSync(path.join(tmpdir(), 'sinkside-packing-'));
  rehearsals = new Rehearsals(data, library);
  const begun = { skill: 'hand-washing', variants: {}, style: 'coach', engine: 'test', startedAt: '2026-01-31T09:30:00Z' } as const;
  const created = await rehearsals.create(begun);
  id = created.id;
  await rehearsals.addSound(id, 0, SOUND, created.writer);
  await rehearsals.addEvents(id, 0, [{ type: 'ended', at: 30 }], created.writer);
  // The process packs, not this one.
  await rehearsals.close();
}); // prettier-ignore
afterEach(() => rmSync(data, { recursive: true }));

/** Starts the process and lets it pack, for so long at the most. Tells what it said, and whether it was killed. */
async function packing(
  { killAfter, limit }: { killAfter?: number; limit?: number } = {},
  options: SpawnOptions = {},
) {
  const command = [process.execPath, PROCESS];
  const [program = '', ...args] =
    limit === undefined ? command : ['prlimit', `--fsize=${limit}:unlimited`, ...command];
  const env = { ...process.env, SINKSIDE_DATA: data };
  const child = spawn(program, args, { ...options, env, stdio: ['ignore', 'pipe', 'inherit'] });
  let said = '';
  let killing: Promise<unknown> | undefined;
  child.stdout!.on('data', (piece: Buffer) => {
    said += piece.toString();
    if (killAfter !== undefined)
      killing ??= setTimeout(killAfter, undefined).then(() => child.kill('SIGKILL'));
  });
  const [, signal] = (await once(child, 'exit')) as [number | null, string | null];
  return { said, killed: signal === 'SIGKILL' };
}

async function heard(): Promise<Buffer> {
  const sound = await new Rehearsals(data, library).sound(id);
  const pieces = [];
  for await (const piece of sound.read(0, sound.dataBytes)) pieces.push(piece);
  return Buffer.concat(pieces);
}

describe('a program that packs sound', () => {
  it('loses none of it whenever it is killed, and the next start packs it', async () => {
    let killed = 0;
    for (const killAfter of [60, 300, 700, 1100, 1600]) {
      if ((await packing({ killAfter })).killed) killed++;
      expect((await heard()).equals(SOUND), `killed after ${killAfter} ms`).toBe(true);
    }
    expect(killed).toBeGreaterThan(2);
    expect((await packing()).said).toBe('packing\ndone\n');
    expect(files()).toEqual(['journal.jsonl', 'sound.flac', 'writer']);
    expect((await heard()).equals(SOUND)).toBe(true);
  }, 180_000);

  it.runIf(process.platform === 'linux')('leaves it as it is where the disk is full, and says so', async () => {
    const { said } = await packing({ limit: 100_000 });
    expect(said).toMatch(/^packing\nThe sound of \S+ stays as it is, unpacked: The disk is full\ndone\n$/);
    expect(files()).toEqual(UNPACKED);
    expect((await heard()).equals(SOUND)).toBe(true);
  }, 60_000);

  it.runIf(process.platform !== 'win32')('leaves it as it is where nothing can be written, and says so', async () => {
    const isRoot = process.getuid?.() === 0;
    // Root may write everywhere.
    for (const at of [data, path.join(data, 'rehearsals'), folder()]) {
      if (isRoot) chownSync(at, NOBODY, NOBODY);
      chmodSync(at, 0o555);
    }
    const { said } = await packing({}, isRoot ? { uid: NOBODY, gid: NOBODY } : {});
    for (const at of [data, path.join(data, 'rehearsals'), folder()]) chmodSync(at, 0o755);
    expect(said).toMatch(/^packing\nThe sound of \S+ stays as it is, unpacked: EACCES[^\n]*\ndone\n$/);
    expect(files()).toEqual(UNPACKED);
    expect((await heard()).equals(SOUND)).toBe(true);
  }, 60_000);
}); // prettier-ignore
