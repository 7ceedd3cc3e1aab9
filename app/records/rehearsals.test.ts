import { execFile } from 'node:child_process';
import { mkdir, mkdtemp, readdir, readFile, rename, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import { afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import type { RehearsalEvent, ReviewEvent } from '../marking/events.ts';
import type { NewRehearsal } from './header.ts';
import { openLibrary, type Library } from '../library/library.ts';
import { Gap, OtherContent } from '../disk/notKept.ts';
import * as journal from './journal.ts';
import { UnknownRehearsal } from './kept.ts';
import { Rehearsals } from './rehearsals.ts';
import { HEADER_BYTES } from './soundTrack.ts';
import { OtherWriter } from './writer.ts';

// Reading stays as it is; it is counted.
vi.mock('./journal.ts', { spy: true });

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

/** The tokens of those that were begun. */
const writers = new Map<string, string>();
async function begin(begun = BEGUN, where = rehearsals): Promise<string> {
  const { id, writer } = await where.create(begun);
  writers.set(id, writer);
  return id;
}
const addEvents = (id: string, from: number, events: RehearsalEvent[], where = rehearsals): Promise<number> =>
  where.addEvents(id, from, events, writers.get(id) ?? '');
const addSound = (id: string, from: number, sound: Uint8Array): Promise<number> =>
  rehearsals.addSound(id, from, sound, writers.get(id) ?? '');

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
    const id = await begin();
    expect(id).toBe('20260131T093000Z-hand-washing');
    expect(await begin()).toBe('20260131T093000Z-hand-washing-2');
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
    await expect(begin({ ...BEGUN, skill: 'juggling' })).rejects.toThrow(/There is no skill "juggling"/);
    await expect(begin({ ...BEGUN, variants: { tap: 'gold' } })).rejects.toThrow(/"gold"/);
    expect(await rehearsals.list()).toEqual([]);
  });

  it('is listed as interrupted until it is ended, with its marks', async () => {
    const id = await begin();
    await addEvents(id, 0, GREETED);
    await addSound(id, 0, Buffer.alloc(2 * 24_000));
    const [open] = await rehearsals.list();
    expect(open).toMatchObject({ id, state: 'interrupted', seconds: 1.5, passed: false, heard: 1, note: '' });
    expect(open!.criticalMissed).toContain('scrub');
    await addEvents(id, 2, [{ type: 'ended', at: 60 }]);
    expect(await rehearsals.list()).toMatchObject([{ id, state: 'ended', seconds: 60 }]);
  });

  it('of a part of a skill is marked by that part, and is no pass', async () => {
    const id = await begin({ ...BEGUN, only: ['greet'] });
    await addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }]);
    expect(await rehearsals.list()).toMatchObject([
      { passed: null, heard: 1, of: 1, criticalMissed: [], note: /^Only 1 of \d+ steps/ },
    ]);
  });

  it('stays marked under its version, as far as that is kept', async () => {
    const id = await begin({ ...BEGUN, version: 1 });
    await addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }]);
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
    const id = await begin(BEGUN, changing);
    await addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }], changing);
    expect(await changing.list()).toMatchObject([{ heard: 1 }]);
    const skill = library.skills.get('hand-washing')!;
    now.skills = new Map([['hand-washing', { ...skill, steps: skill.steps.slice(1) }]]);
    expect(await changing.list()).toMatchObject([{ heard: 0 }]);
  });

  it('of a skill that is gone is listed, not marked, and says why', async () => {
    const id = await begin();
    await addEvents(id, 0, GREETED);
    const without = new Rehearsals(data, { ...library, skills: new Map() });
    expect(await without.list()).toMatchObject([
      { id, title: 'hand-washing', passed: null, heard: 0, of: 0, note: /Not marked/ },
    ]);
  });

  it('whose header is lost is known by its folder and its first event', async () => {
    const id = await begin();
    await writeFile(inFolder(id, 'journal.jsonl'), 'rubbish\n');
    await addEvents(id, 0, GREETED);
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
      await expect(addEvents(id, 0, [])).rejects.toThrow(UnknownRehearsal);
      await expect(rehearsals.sound(id)).rejects.toThrow(UnknownRehearsal);
    },
  );

  it('takes writes that come at once in their order', async () => {
    const id = await begin();
    const events = Array.from({ length: 20 }, (_, n): RehearsalEvent => ({ type: 'ended', at: n }));
    await Promise.all(events.map((event, n) => addEvents(id, n, [event])));
    expect((await rehearsals.read(id)).events).toEqual(events);
  });
});

describe('its sound', () => {
  const pcm = (...samples: number[]): Buffer => Buffer.from(Int16Array.from(samples).buffer);
  const kept = async (id: string): Promise<Buffer> =>
    (await readFile(inFolder(id, 'sound.wav'))).subarray(HEADER_BYTES);

  it('sent twice, overlapping or with a gap, is kept once and without a hole', async () => {
    const id = await begin();
    expect(await addSound(id, 0, pcm(1, 2, 3))).toBe(3);
    expect(await addSound(id, 0, pcm(1, 2, 3))).toBe(3);
    expect(await addSound(id, 2, pcm(3, 4))).toBe(4);
    await expect(addSound(id, 6, pcm(7))).rejects.toThrow(new Gap('Samples 4 to 5 are missing.', 4));
    expect(await kept(id)).toEqual(pcm(1, 2, 3, 4));
  });

  it('is a WAV file that other programs read', async () => {
    const id = await begin();
    await addSound(id, 0, Buffer.alloc(32_000));
    await addSound(id, 16_000, Buffer.alloc(16_000));
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
    const id = await begin();
    await addSound(id, 0, pcm(1, 2, 3));
    await truncate(inFolder(id, 'sound.wav'), HEADER_BYTES + 5);
    expect((await rehearsals.sound(id)).dataBytes).toBe(4);
    expect(await addSound(id, 2, pcm(3))).toBe(3);
    expect(await kept(id)).toEqual(pcm(1, 2, 3));
  });

  it('taken away leaves the rehearsal readable', async () => {
    const id = await begin();
    await addSound(id, 0, pcm(1));
    await rename(inFolder(id, 'sound.wav'), inFolder(id, 'elsewhere.wav'));
    expect((await rehearsals.read(id)).samples).toBe(0);
  });
});

describe('the writer of a rehearsal', () => {
  it('is who began it, until somebody takes it over on purpose; nobody else may add anything', async () => {
    const { id, writer } = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED, writer);
    for (const other of ['', 'guessed'])
      await expect(rehearsals.addEvents(id, 2, [{ type: 'ended', at: 9 }], other)).rejects.toThrow(
        OtherWriter,
      );
    const next = await rehearsals.takeOver(id);
    await expect(rehearsals.addEvents(id, 2, [{ type: 'ended', at: 9 }], writer)).rejects.toThrow(
      OtherWriter,
    );
    await expect(rehearsals.addSound(id, 0, new Uint8Array(2), writer)).rejects.toThrow(OtherWriter);
    expect(await rehearsals.addEvents(id, 2, [{ type: 'ended', at: 60 }], next)).toBe(3);
    // Also when the program was started again meanwhile.
    expect(await new Rehearsals(data, library).addSound(id, 0, new Uint8Array(2), next)).toBe(1);
    expect(await rehearsals.read(id)).toMatchObject({ kept: 3, samples: 1 });
  });

  it('cannot be told from what the folder holds', async () => {
    const { id, writer } = await rehearsals.create(BEGUN);
    for (const name of await readdir(inFolder(id, '')))
      expect(await readFile(inFolder(id, name), 'utf8')).not.toContain(writer);
  });

  it('that lost it keeps what it has in a copy of what was kept before', async () => {
    const { id, writer } = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED, writer);
    await rehearsals.addSound(id, 0, new Uint8Array([1, 0, 2, 0, 3, 0]), writer);
    const next = await rehearsals.takeOver(id);
    await rehearsals.addEvents(id, 2, [{ type: 'ended', at: 5 }], next);
    const own = await rehearsals.copy(id, 2, 2);
    expect(own.id).toBe(`${id}-2`);
    await rehearsals.addEvents(own.id, 2, [{ type: 'ended', at: 60 }], own.writer);
    expect(await rehearsals.addSound(own.id, 2, new Uint8Array([9, 0]), own.writer)).toBe(3);
    expect(await rehearsals.read(own.id)).toEqual({
      ...(await rehearsals.read(id)),
      events: [...GREETED, { type: 'ended', at: 60 }],
    });
    expect([...(await readFile(inFolder(own.id, 'sound.wav'))).subarray(HEADER_BYTES)]).toEqual([
      1, 0, 2, 0, 9, 0,
    ]);
    expect((await rehearsals.read(id)).events.at(-1)).toEqual({ type: 'ended', at: 5 });
    await expect(rehearsals.copy(id, 4, 0)).rejects.toThrow(Gap);
    await expect(rehearsals.copy(id, 0, 4)).rejects.toThrow(Gap);
  });

  it('may send the same sound again, but no other in its place', async () => {
    const id = await begin();
    await addSound(id, 0, new Uint8Array([1, 0, 2, 0]));
    await expect(addSound(id, 1, new Uint8Array([7, 0, 8, 0]))).rejects.toThrow(OtherContent);
    expect(await addSound(id, 1, new Uint8Array([2, 0, 8, 0]))).toBe(3);
  });
});

describe('what a person says of a rehearsal', () => {
  const said: ReviewEvent = {
    type: 'commented',
    by: 'R. Ortega',
    madeAt: '2026-02-01T08:00:00.000Z',
    at: 3,
    text: 'Well said.',
  };

  it('is added at the journal’s end, whoever sends it, once the rehearsal is over', async () => {
    const { id, writer } = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED, writer);
    await expect(rehearsals.addReview(id, [said])).rejects.toThrow(OtherWriter);
    await rehearsals.addEvents(id, 2, [{ type: 'ended', at: 9 }], writer);
    expect(await rehearsals.addReview(id, [said])).toBe(4);
    expect((await rehearsals.read(id)).events).toEqual([...GREETED, { type: 'ended', at: 9 }, said]);
  });

  it('is added to one that was broken off, again and again', async () => {
    const { id, writer } = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED, writer);
    expect(await rehearsals.addReview(id, [said], Date.now() + 31_000)).toBe(3);
    expect(await rehearsals.addReview(id, [said])).toBe(4);
  });
});

describe('a rehearsal that is deleted', () => {
  /** Every file under the data folder, with what it holds. */
  async function everything(): Promise<string> {
    const entries = await readdir(data, { recursive: true, withFileTypes: true });
    const files = entries
      .filter((entry) => entry.isFile())
      .map((entry) => path.join(entry.parentPath, entry.name));
    const texts = await Promise.all(files.map((file) => readFile(file, 'latin1')));
    return [...entries.map(({ name }) => name), ...texts].join('\n');
  }

  it('leaves nothing', async () => {
    const [kept, id] = [await begin({ ...BEGUN, startedAt: '2026-01-30T09:30:00Z' }), await begin()];
    await addEvents(id, 0, [...GREETED, { type: 'ended', at: 9 }]);
    await addSound(id, 0, Buffer.from('a voice '));
    await rehearsals.list();
    expect(await everything()).toMatch(/good morning[^]*a voice/);
    await rehearsals.delete(id, '');
    const left = await everything();
    for (const word of ['good morning', 'a voice', id]) expect(left).not.toContain(word);
    expect(await readdir(path.join(data, 'rehearsals'))).toEqual([kept, 'index-202601.json']);
    expect(await rehearsals.list()).toMatchObject([{ id: kept }]);
    await expect(rehearsals.delete(id, '')).rejects.toThrow(UnknownRehearsal);
  });

  it('is not one that another window is rehearsing just now', async () => {
    const { id, writer } = await rehearsals.create(BEGUN);
    await rehearsals.addEvents(id, 0, GREETED, writer);
    await expect(rehearsals.delete(id, '')).rejects.toThrow(OtherWriter);
    expect((await rehearsals.read(id)).kept).toBe(2);
    // Half a minute later nobody is.
    await rehearsals.delete(id, '', Date.now() + 31_000);
    const again = await rehearsals.create(BEGUN);
    await rehearsals.delete(again.id, again.writer);
    expect(await rehearsals.list()).toEqual([]);
  });

  it('is cleared away at the next start where the program was stopped half way', async () => {
    const id = await begin();
    await mkdir(inFolder('.new-x1', ''));
    await rename(inFolder(id, ''), inFolder(`.deleted-${id}`, ''));
    await rehearsals.tidy();
    expect(await readdir(path.join(data, 'rehearsals'))).toEqual([]);
  });
});

describe('the list', () => {
  const reads = (): number => vi.mocked(journal.readJournal).mock.calls.length;
  async function readsFor<T>(work: () => Promise<T>): Promise<[number, T]> {
    const before = reads();
    const result = await work();
    return [reads() - before, result];
  }
  const second = (n: number): NewRehearsal => ({ ...BEGUN, startedAt: `2026-01-31T09:30:0${n}Z` });
  const index = (): string => path.join(data, 'rehearsals', 'index-202601.json');

  it('reads what has changed and nothing else, after another start too', async () => {
    const ids: string[] = [];
    for (let n = 0; n < 8; n++) {
      ids.unshift(await begin(second(n)));
      await addEvents(ids[0]!, 0, [...GREETED, { type: 'ended', at: n }]);
    }
    const [all, first] = await readsFor(() => rehearsals.list());
    expect([all, first.map(({ id }) => id)]).toEqual([8, ids]);
    expect(await readsFor(() => rehearsals.list())).toEqual([0, first]);
    const started = new Rehearsals(data, library);
    expect(await readsFor(() => started.list())).toEqual([0, first]);
    await addEvents(ids[3]!, 3, [{ type: 'ended', at: 77 }]);
    const [changed, then] = await readsFor(() => started.list());
    expect([changed, then[3]!.seconds]).toEqual([1, 77]);
    expect(then.with(3, first[3]!)).toEqual(first);
    await rm(inFolder(ids[5]!, ''), { recursive: true });
    expect(await readsFor(() => started.list())).toEqual([0, then.toSpliced(5, 1)]);
  });

  it.each([
    ['is missing', () => rm(index())],
    ['is damaged', () => writeFile(index(), '{"program":')],
    ['is of another program', async () => writeFile(index(), (await readFile(index(), 'utf8')).replace('"program":"', '"program":"0'))],
    ['cannot be read or written', async () => { await rm(index()); await mkdir(index()); }],
  ])('is made again from the folders where its index %s', async (_, spoil) => {
    await addEvents(await begin(), 0, [...GREETED, { type: 'ended', at: 9 }]);
    const before = await rehearsals.list();
    await spoil();
    expect(await readsFor(() => new Rehearsals(data, library).list())).toEqual([1, before]);
  }); // prettier-ignore

  it('tells how long the sound of one that goes on is without reading it again', async () => {
    const id = await begin();
    await rehearsals.list();
    await addSound(id, 0, new Uint8Array(64_000));
    expect(await readsFor(() => rehearsals.list())).toMatchObject([0, [{ id, seconds: 2 }]]);
  });

  it.runIf(process.platform === 'linux')('and an event more cost no reading of a long journal', async () => {
    const id = await begin();
    const events = Array.from({ length: 20_000 }, (_, n): RehearsalEvent => ({ type: 'ended', at: n }));
    await addEvents(id, 0, events);
    const bytesRead = async (): Promise<number> =>
      Number(/^rchar: (\d+)/m.exec(await readFile('/proc/self/io', 'utf8'))![1]);
    const before = await bytesRead();
    for (let n = 0; n < 10; n++) await addEvents(id, events.length + n, [{ type: 'ended', at: n }]);
    expect((await bytesRead()) - before).toBeLessThan(100_000);
  });
});
