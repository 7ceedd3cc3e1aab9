import { mkdir, mkdtemp, readdir, readFile, rm, stat, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { openLibrary, type Library } from '../../library/library.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import type { NewRehearsal } from '../header.ts';
import { Rehearsals } from '../rehearsals.ts';
import { wavHeader } from '../soundTrack.ts';
import { DamagedSound, decode } from './flac.ts';
import { packBeside } from './pack.ts';

// What is decoded stays as it is; one test changes it.
vi.mock('./flac.ts', { spy: true });

const BEGUN: NewRehearsal = {
  skill: 'hand-washing',
  variants: { tap: 'lever' },
  style: 'coach',
  engine: 'test',
  startedAt: '2026-01-31T09:30:00Z',
};
const ENDED: RehearsalEvent = { type: 'ended', at: 2 };
/** Its thread takes a moment to start, and much longer on a busy machine. */
const BEGINNING = { interval: 1, timeout: 20_000 };
const DAY = 24 * 60 * 60 * 1000;
/** Sound whose every sample tells its place. */
const soundOf = (from: number, to: number): Buffer =>
  Buffer.from(Int16Array.from({ length: to - from }, (_, n) => (from + n) % 32_000).buffer);
const ALL = soundOf(0, 40_000);

let data = '';
let library: Library;
let rehearsals: Rehearsals;
let warnings: string[];
let writer = '';
let id = '';
const inFolder = (name: string): string => path.join(data, 'rehearsals', id, name);
const files = async (): Promise<string[]> => (await readdir(inFolder(''))).sort();
const PACKED = ['journal.jsonl', 'sound.flac', 'writer'];
const UNPACKED = ['journal.jsonl', 'sound.wav', 'writer'];

async function heard(of = id, from?: number, to?: number): Promise<Buffer> {
  const { dataBytes, read } = await rehearsals.sound(of);
  const pieces = [];
  for await (const piece of read(from ?? 0, to ?? dataBytes)) pieces.push(piece);
  return Buffer.concat(pieces);
}

beforeAll(async () => {
  library = await openLibrary();
});
beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-packing-'));
  warnings = [];
  rehearsals = new Rehearsals(data, library, (message) => warnings.push(message));
  ({ id, writer } = await rehearsals.create(BEGUN));
  await rehearsals.addSound(id, 0, ALL, writer);
});
afterEach(async () => {
  await rehearsals.close();
  await rm(data, { recursive: true });
});

describe('sound that was packed', () => {
  it('is the same, in less space', async () => {
    const before = await stat(inFolder('sound.wav'));
    await rehearsals.pack(id);
    expect(await files()).toEqual(PACKED);
    expect((await stat(inFolder('sound.flac'))).size).toBeLessThan(before.size / 2);
    expect((await rehearsals.read(id)).samples).toBe(40_000);
    expect(await rehearsals.list()).toMatchObject([{ state: 'interrupted', seconds: 2.5 }]);
    expect((await heard()).equals(ALL)).toBe(true);
    expect((await heard(id, 6, 46)).equals(ALL.subarray(6, 46))).toBe(true);
    // Again, there is nothing to do.
    await rehearsals.pack(id);
    expect((await heard()).equals(ALL)).toBe(true);
  });

  it('is unpacked once for all that is played of it', async () => {
    await rehearsals.pack(id);
    vi.mocked(decode).mockClear();
    await Promise.all([heard(), heard(id, 0, 2), heard(id, 100, 200)]);
    await heard(id, 4, 8);
    expect(decode).toHaveBeenCalledTimes(1);
  });

  it('is played on where it was packed in the middle of it', async () => {
    const { dataBytes, read } = await rehearsals.sound(id);
    await rehearsals.pack(id);
    for await (const piece of read(0, dataBytes)) expect(Buffer.from(piece).equals(ALL)).toBe(true);
  });

  it('is unpacked where the rehearsal goes on, and packed whole after that', async () => {
    await rehearsals.pack(id);
    const next = await rehearsals.takeOver(id);
    expect(await rehearsals.addSound(id, 40_000, soundOf(40_000, 50_000), next)).toBe(50_000);
    expect((await heard()).equals(soundOf(0, 50_000))).toBe(true);
    const wav = await readFile(inFolder('sound.wav'));
    expect(wav.subarray(0, 44)).toEqual(wavHeader(100_000));
    await rehearsals.pack(id);
    expect(await files()).toEqual(PACKED);
    expect((await heard()).equals(soundOf(0, 50_000))).toBe(true);
  });

  it('may be sent again, and no other in its place', async () => {
    await rehearsals.pack(id);
    expect(await rehearsals.addSound(id, 39_000, soundOf(39_000, 40_000), writer)).toBe(40_000);
    await expect(rehearsals.addSound(id, 0, soundOf(5, 9), writer)).rejects.toThrow(/other sound/);
  });

  it('is copied as far as it is asked for', async () => {
    await rehearsals.pack(id);
    const own = await rehearsals.copy(id, 0, 30_000);
    expect((await heard(own.id)).equals(soundOf(0, 30_000))).toBe(true);
    expect(await rehearsals.addSound(own.id, 30_000, soundOf(7, 9), own.writer)).toBe(30_002);
    await expect(rehearsals.copy(id, 0, 40_001)).rejects.toThrow(/only 40000 samples/);
    expect(await files()).toEqual(PACKED);
  });

  it('is deleted with all else', async () => {
    await rehearsals.pack(id);
    await heard();
    await rehearsals.delete(id, writer);
    expect(await readdir(path.join(data, 'rehearsals'))).toEqual([]);
    await expect(rehearsals.sound(id)).rejects.toThrow(/There is no rehearsal/);
  });

  it('and is damaged is said to be, and the rehearsal is there all the same', async () => {
    await rehearsals.pack(id);
    const flac = await readFile(inFolder('sound.flac'));
    flac[flac.length - 100]! ^= 4;
    await writeFile(inFolder('sound.flac'), flac);
    await expect(rehearsals.sound(id)).rejects.toThrow(DamagedSound);
    await expect(rehearsals.addSound(id, 40_000, soundOf(0, 2), writer)).rejects.toThrow(DamagedSound);
    expect(await files()).not.toContain('sound.wav');
    expect(await rehearsals.read(id)).toMatchObject({ samples: 40_000, faults: [] });
    await writeFile(inFolder('sound.flac'), 'rubbish');
    expect((await rehearsals.read(id)).samples).toBe(0);
  });
});

describe('sound is packed', () => {
  it('soon after the rehearsal has ended, with what came after its end', async () => {
    await rehearsals.addEvents(id, 0, [ENDED], writer);
    await rehearsals.addSound(id, 40_000, soundOf(40_000, 41_000), writer);
    expect(await files()).toEqual(UNPACKED);
    await vi.waitFor(async () => expect(await files()).toEqual(PACKED), { timeout: 20_000 });
    expect((await heard()).equals(soundOf(0, 41_000))).toBe(true);
  });

  it('at the next start where it was not before: what was ended, and what was left for a day', async () => {
    const ended = await rehearsals.create(BEGUN);
    await rehearsals.addSound(ended.id, 0, ALL, ended.writer);
    await rehearsals.addEvents(ended.id, 0, [ENDED], ended.writer);
    await rehearsals.create(BEGUN);
    const at = (await stat(inFolder('sound.wav'))).mtimeMs;
    const packedAfter = async (ms: number): Promise<string[]> => {
      const next = new Rehearsals(data, library, (message) => warnings.push(message));
      await next.packAll(at + ms);
      const names = await readdir(path.join(data, 'rehearsals'), { recursive: true });
      return names.filter((name) => name.endsWith('.flac')).sort();
    };
    expect(await packedAfter(DAY - 5000)).toEqual([path.join(ended.id, 'sound.flac')]);
    expect(await packedAfter(DAY + 5000)).toEqual([ended.id, id].map((of) => path.join(of, 'sound.flac')));
    expect(warnings).toEqual([]);
  });

  it('not where more comes while it is packed', async () => {
    const packing = rehearsals.pack(id);
    await vi.waitFor(async () => expect(await files()).toContain('sound.flac.part'), BEGINNING);
    await rehearsals.addSound(id, 40_000, soundOf(40_000, 41_000), writer);
    await packing;
    expect(await files()).toEqual(UNPACKED);
    expect((await heard()).equals(soundOf(0, 41_000))).toBe(true);
  });

  it('not half where the program closes meanwhile', async () => {
    const packing = rehearsals.pack(id).catch((error: unknown) => error);
    await vi.waitFor(async () => expect(await files()).toContain('sound.flac.part'), BEGINNING);
    await rehearsals.close();
    expect(await packing).toMatchObject({ name: 'AbortError' });
    expect(await files()).toEqual(UNPACKED);
    await expect(rehearsals.pack(id)).rejects.toThrow(/abort/);
    expect(warnings).toEqual([]);
  });

  it('not where other samples come out than went in', async () => {
    const real = vi.mocked(decode).getMockImplementation();
    vi.mocked(decode).mockImplementationOnce(async function* () {
      yield await Promise.resolve(ALL.subarray(0, 10));
      yield soundOf(6, 40_001);
    });
    const packNow = (): Promise<unknown> => packBeside(inFolder(''), new AbortController().signal);
    await expect(packNow()).rejects.toThrow(/other samples came out/);
    vi.mocked(decode).mockImplementationOnce(async function* () {
      yield await Promise.resolve(ALL.subarray(0, 70_000));
    });
    await expect(packNow()).rejects.toThrow(/shorter/);
    expect(vi.mocked(decode).getMockImplementation()).toBe(real);
    expect(await files()).toEqual(UNPACKED);
    expect((await heard()).equals(ALL)).toBe(true);
  });

  it('over what a stopped program left: a part, or both files', async () => {
    await rehearsals.pack(id);
    const old = await readFile(inFolder('sound.flac'));
    await rehearsals.addSound(id, 40_000, soundOf(40_000, 44_000), writer);
    // An older FLAC file stands beside the WAV file, which counts.
    await writeFile(inFolder('sound.flac'), old);
    await writeFile(inFolder('sound.flac.part'), 'half');
    await writeFile(inFolder('sound.wav.part'), 'half');
    expect(await rehearsals.read(id)).toMatchObject({ samples: 44_000 });
    await rehearsals.pack(id);
    expect((await heard()).equals(soundOf(0, 44_000))).toBe(true);
  });

  it('another time where its file cannot be written, with a warning', async () => {
    await mkdir(inFolder('sound.flac.part'));
    await rehearsals.addEvents(id, 0, [ENDED], writer);
    await rehearsals.packAll();
    expect(warnings).toEqual([expect.stringMatching(/^The sound of \S+ stays as it is, unpacked: /)]);
    expect((await heard()).equals(ALL)).toBe(true);
    await rm(inFolder('sound.flac.part'), { recursive: true, force: true });
    await rehearsals.packAll();
    expect(await files()).toEqual(PACKED);
  });

  it('only where there is any', async () => {
    const silent = await rehearsals.create(BEGUN);
    await utimes(path.join(data, 'rehearsals', silent.id, 'sound.wav'), 0, 0);
    await rehearsals.packAll();
    expect(await readdir(path.join(data, 'rehearsals', silent.id))).toContain('sound.wav');
  });
});
