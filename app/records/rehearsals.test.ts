import { execFile } from 'node:child_process';
import { mkdtemp, readdir, readFile, rename, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { RehearsalEvent } from '../marking/events.ts';
import type { NewRehearsal } from './header.ts';
import { openLibrary, type Library } from '../library/library.ts';
import { Gap } from '../disk/notKept.ts';
import { Rehearsals, UnknownRehearsal } from './rehearsals.ts';
import { HEADER_BYTES } from './soundTrack.ts';

const BEGUN: NewRehearsal = {
  skill: 'hand-washing',
  variants: { tap: 'lever' },
  style: 'coach',
  engine: 'moonshine/moonshine-tiny-en',
  startedAt: '2026-01-31T09:30:00.250Z',
};
const evidence = { utterance: 0, text: 'good morning', start: 1, end: 2, score: 1 };
const GREETED: RehearsalEvent[] = [
  { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } },
  { type: 'credited', step: 'greet', evidence },
];

let data = '';
let library: Library;
let rehearsals: Rehearsals;
const inFolder = (id: string, name: string): string => path.join(data, 'rehearsals', id, name);

beforeAll(async () => {
  library = await openLibrary();
});
beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-rehearsals-'));
  rehearsals = new Rehearsals(data, library);
});
afterEach(() => rm(data, { recursive: true }));

describe('a rehearsal', () => {
  it('is kept in a folder of its own, named by when it began', async () => {
    expect(await rehearsals.list()).toEqual([]);
    const id = await rehearsals.create(BEGUN);
    expect(id).toBe('20260131T093000Z-hand-washing');
    expect(await rehearsals.create(BEGUN)).toBe('20260131T093000Z-hand-washing-2');
    expect((await readdir(path.join(data, 'rehearsals'))).sort()).toEqual([id, `${id}-2`]);
    expect(await rehearsals.read(id)).toEqual({
      header: { schema: 1, ...BEGUN },
      events: [],
      faults: [],
      kept: 0,
      samples: 0,
    });
  });

  it('of a skill or variant that is not there is not begun', async () => {
    await expect(rehearsals.create({ ...BEGUN, skill: 'juggling' })).rejects.toThrow(
      /There is no skill "juggling"/,
    );
    await expect(rehearsals.create({ ...BEGUN, variants: { tap: 'gold' } })).rejects.toThrow(/"gold"/);
    expect(await rehearsals.list()).toEqual([]);
  });

  it('is listed as interrupted until it is ended, with its marks', async () => {
    const id = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED);
    await rehearsals.addSound(id, 0, Buffer.alloc(2 * 24_000));
    const [open] = await rehearsals.list();
    expect(open).toMatchObject({ id, state: 'interrupted', seconds: 1.5, passed: false, heard: 1, note: '' });
    expect(open!.criticalMissed).toContain('scrub');
    await rehearsals.addEvents(id, 2, [{ type: 'ended', at: 60 }]);
    expect(await rehearsals.list()).toMatchObject([{ id, state: 'ended', seconds: 60 }]);
  });

  it('of a part of a skill is marked by that part, and is no pass', async () => {
    const id = await rehearsals.create({ ...BEGUN, only: ['greet'] });
    await rehearsals.addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }]);
    expect(await rehearsals.list()).toMatchObject([
      { passed: null, heard: 1, of: 1, criticalMissed: [], note: /^Only 1 of \d+ steps/ },
    ]);
  });

  it('stays marked under its version, as far as that is kept', async () => {
    const id = await rehearsals.create({ ...BEGUN, version: 1 });
    await rehearsals.addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }]);
    const first = library.skills.get('hand-washing')!;
    const second = { ...first, version: 2, steps: first.steps.slice(1) };
    const skills = new Map([['hand-washing', second]]);
    const versions = new Map([['hand-washing', new Map([[1, first]])]]);
    const kept = await new Rehearsals(data, { ...library, skills, versions }).list();
    expect(kept).toEqual(await rehearsals.list());
    expect(kept).toMatchObject([{ version: 1, heard: 1, note: '' }]);
    expect(await new Rehearsals(data, { ...library, skills }).list()).toMatchObject([
      { version: 2, heard: 0, note: 'Its version 1 is not kept: marked under version 2.' },
    ]);
  });

  it('is marked by the library as it is now', async () => {
    const now = { ...library };
    const changing = new Rehearsals(data, now);
    const id = await changing.create(BEGUN);
    await changing.addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }]);
    expect(await changing.list()).toMatchObject([{ heard: 1 }]);
    const skill = library.skills.get('hand-washing')!;
    now.skills = new Map([['hand-washing', { ...skill, steps: skill.steps.slice(1) }]]);
    expect(await changing.list()).toMatchObject([{ heard: 0 }]);
  });

  it('of a skill that is gone is listed, not marked, and says why', async () => {
    const id = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED);
    const without = new Rehearsals(data, { ...library, skills: new Map() });
    expect(await without.list()).toMatchObject([
      { id, title: 'hand-washing', passed: null, heard: 0, of: 0, note: /Not marked/ },
    ]);
  });

  it('whose header is lost is known by its folder and its first event', async () => {
    const id = await rehearsals.create(BEGUN);
    await writeFile(inFolder(id, 'journal.jsonl'), 'rubbish\n');
    await rehearsals.addEvents(id, 0, GREETED);
    const { header, faults } = await rehearsals.read(id);
    expect(header).toMatchObject({
      skill: 'hand-washing',
      variants: { tap: 'lever' },
      startedAt: '2026-01-31T09:30:00Z',
    });
    expect(faults).toMatchObject([{ line: 1 }]);
    expect(await rehearsals.list()).toMatchObject([{ heard: 1, note: /journal\.jsonl:1:1/ }]);
  });

  it.each(['20260131T093000Z-nothing', '../rehearsals', '..', '', 'a/b', '.new-abc'])(
    '"%s" is not there',
    async (id) => {
      await expect(rehearsals.read(id)).rejects.toThrow(UnknownRehearsal);
      await expect(rehearsals.addEvents(id, 0, [])).rejects.toThrow(UnknownRehearsal);
      await expect(rehearsals.sound(id)).rejects.toThrow(UnknownRehearsal);
    },
  );

  it('takes writes that come at once in their order', async () => {
    const id = await rehearsals.create(BEGUN);
    const events = Array.from({ length: 20 }, (_, n): RehearsalEvent => ({ type: 'ended', at: n }));
    await Promise.all(events.map((event, n) => rehearsals.addEvents(id, n, [event])));
    expect((await rehearsals.read(id)).events).toEqual(events);
  });
});

describe('its sound', () => {
  const pcm = (...samples: number[]): Buffer => Buffer.from(Int16Array.from(samples).buffer);
  const kept = async (id: string): Promise<Buffer> =>
    (await readFile(inFolder(id, 'sound.wav'))).subarray(HEADER_BYTES);

  it('sent twice, overlapping or with a gap, is kept once and without a hole', async () => {
    const id = await rehearsals.create(BEGUN);
    expect(await rehearsals.addSound(id, 0, pcm(1, 2, 3))).toBe(3);
    expect(await rehearsals.addSound(id, 0, pcm(1, 2, 3))).toBe(3);
    expect(await rehearsals.addSound(id, 2, pcm(3, 4))).toBe(4);
    await expect(rehearsals.addSound(id, 6, pcm(7))).rejects.toThrow(
      new Gap('Samples 4 to 5 are missing.', 4),
    );
    expect(await kept(id)).toEqual(pcm(1, 2, 3, 4));
  });

  it('is a WAV file that other programs read', async () => {
    const id = await rehearsals.create(BEGUN);
    await rehearsals.addSound(id, 0, Buffer.alloc(32_000));
    await rehearsals.addSound(id, 16_000, Buffer.alloc(16_000));
    const { stdout } = await promisify(execFile)('ffprobe', [
      '-v',
      'error',
      '-show_entries',
      'stream=codec_name,sample_rate,channels,duration',
      '-of',
      'csv=p=0',
      inFolder(id, 'sound.wav'),
    ]);
    expect(stdout.trim()).toBe('pcm_s16le,16000,1,1.500000');
  });

  it('that broke off inside a sample goes on at the sample', async () => {
    const id = await rehearsals.create(BEGUN);
    await rehearsals.addSound(id, 0, pcm(1, 2, 3));
    await truncate(inFolder(id, 'sound.wav'), HEADER_BYTES + 5);
    expect((await rehearsals.sound(id)).dataBytes).toBe(4);
    expect(await rehearsals.addSound(id, 2, pcm(3))).toBe(3);
    expect(await kept(id)).toEqual(pcm(1, 2, 3));
  });

  it('taken away leaves the rehearsal readable', async () => {
    const id = await rehearsals.create(BEGUN);
    await rehearsals.addSound(id, 0, pcm(1));
    await rename(inFolder(id, 'sound.wav'), inFolder(id, 'elsewhere.wav'));
    expect((await rehearsals.read(id)).samples).toBe(0);
  });
});
