import { execFileSync, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import {
  chmodSync,
  chownSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import {
  CreatedSchema,
  KeptSchema,
  KeptSoundSchema,
  ProblemSchema,
  RehearsalSchema,
  RehearsalsSchema,
  SettingsSchema,
  WRITER_HEADER,
  type Rehearsal,
  type RehearsalSummary,
} from '../../app/host/api.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { kill, killAll, startRoom as start, type StartedRoom } from './room.ts';

/** What becomes of a rehearsal when the host is killed, the disk is full, or the journal was damaged. */

/** Seconds that starting a process may take on a busy machine. */
const STARTING = 30;

let data = '';
beforeEach(() => {
  data = mkdtempSync(path.join(tmpdir(), 'sinkside-killed-'));
});
afterEach(async () => {
  await killAll();
  rmSync(data, { recursive: true });
});

const startRoom = (folder = data, user = {}): Promise<StartedRoom> => start(folder, user);

/** The tokens of the rehearsals that were begun. */
const writers = new Map<string, string>();
const writerOf = (id: string): Record<string, string> => ({ [WRITER_HEADER]: writers.get(id) ?? '' });
const json = (method: 'POST' | 'PUT', url: string, value: unknown, headers = {}): Promise<Response> =>
  fetch(url, {
    method,
    headers: { ...headers, 'content-type': 'application/json' },
    body: JSON.stringify(value),
  });
async function create(url: string): Promise<string> {
  const begun = {
    skill: 'hand-washing',
    variants: {},
    style: 'coach',
    engine: 'test',
    startedAt: '2026-01-31T09:30:00Z',
  };
  const { id, writer } = CreatedSchema.parse(
    await (await json('POST', `${url}api/rehearsals`, begun)).json(),
  );
  writers.set(id, writer);
  return id;
}
const read = async (url: string, id: string): Promise<Rehearsal> =>
  RehearsalSchema.parse(await (await fetch(`${url}api/rehearsals/${id}`)).json());
const list = async (url: string): Promise<RehearsalSummary[]> =>
  RehearsalsSchema.parse(await (await fetch(`${url}api/rehearsals`)).json());
const addEvents = (url: string, id: string, from: number, events: RehearsalEvent[]): Promise<Response> =>
  json('POST', `${url}api/rehearsals/${id}/events`, { from, events }, writerOf(id));
const addSound = (url: string, id: string, from: number, body: Uint8Array<ArrayBuffer>): Promise<Response> =>
  fetch(`${url}api/rehearsals/${id}/sound?from=${from}`, { method: 'POST', headers: writerOf(id), body });
const fileOf = (id: string, name: string): string => path.join(data, 'rehearsals', id, name);

/** The nth event of a rehearsal that never ends. */
const eventAt = (n: number): RehearsalEvent =>
  n === 0
    ? { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } }
    : {
        type: 'credited',
        step: 'greet',
        evidence: { utterance: n, text: `saying ${n} `.repeat(20), start: n, end: n, score: 1 },
      };
const events = (from: number, to: number): RehearsalEvent[] =>
  Array.from({ length: to - from }, (_, n) => eventAt(from + n));
/** Sound whose every sample tells its place. */
const soundOf = (from: number, to: number): Uint8Array<ArrayBuffer> =>
  new Uint8Array(Int16Array.from({ length: to - from }, (_, n) => (from + n) % 32_000).buffer);

describe('a host that is killed', () => {
  it.each([3, 17, 40])('after %i answers has lost nothing it said was kept, and goes on', async (answers) => {
    const first = await startRoom();
    const id = await create(first.url);
    const kept = { events: 0, samples: 0, asked: 0 };
    const soundPiece = 1600;
    const sending = async (): Promise<void> => {
      for (;;) {
        kept.asked = kept.events + 3;
        const added = await addEvents(first.url, id, kept.events, events(kept.events, kept.asked));
        kept.events = KeptSchema.parse(await added.json()).kept;
        const piece = soundOf(kept.samples, kept.samples + soundPiece);
        const heard = await addSound(first.url, id, kept.samples, piece);
        kept.samples = KeptSoundSchema.parse(await heard.json()).samples;
        // Killed while the next request is on its way.
        if (kept.events >= answers) setImmediate(() => first.child.kill('SIGKILL'));
      }
    };
    await expect(sending()).rejects.toThrow();
    await kill(first.child);

    const second = await startRoom();
    expect(await list(second.url)).toMatchObject([{ id, state: 'interrupted', heard: 1 }]);
    const after = await read(second.url, id);
    expect(after.kept).toBeGreaterThanOrEqual(kept.events);
    expect(after.events).toEqual(events(0, after.kept));
    expect(after.kept).toBeLessThanOrEqual(kept.asked);
    expect(after.samples).toBeGreaterThanOrEqual(kept.samples);
    expect(after.samples).toBeLessThanOrEqual(kept.samples + soundPiece);
    const wav = new Uint8Array(await (await fetch(`${second.url}api/rehearsals/${id}/sound`)).arrayBuffer());
    expect(wav.subarray(44)).toEqual(soundOf(0, after.samples));

    // The page that is still open sends again what it had no answer to.
    const added = await addEvents(second.url, id, kept.events, [...events(kept.events, kept.asked), { type: 'ended', at: 99 }]);
    expect(KeptSchema.parse(await added.json()).kept).toBe(kept.asked + 1);
    expect(await list(second.url)).toMatchObject([{ id, state: 'ended', seconds: 99 }]);
  }, (2 * STARTING + 10) * 1000); // prettier-ignore

  it.each(['SIGINT', 'SIGTERM'] as const)('with %s ends cleanly', async (signal) => {
    const { child, url, output } = await startRoom();
    const id = await create(url);
    const ended = once(child, 'exit');
    child.kill(signal);
    expect(await ended).toEqual([0, null]);
    expect(output()).toMatch(/The rehearsal room is closed\./);
    expect(readdirSync(path.join(data, 'rehearsals'))).toEqual([id]);
    expect(readdirSync(data)).toEqual(['rehearsals']);
  }, STARTING * 1000); // prettier-ignore
});

/**
 * A full disk is stood in for by the greatest size a file of the process may have (RLIMIT_FSIZE): a write stops half way
 * there just as it does on a full disk, and room can be made again.
 */
function limitFiles(child: ChildProcess, bytes: number | 'unlimited'): void {
  execFileSync('prlimit', [`--pid=${child.pid}`, `--fsize=${bytes}:unlimited`]);
}

describe.runIf(process.platform === 'linux')('a full disk', () => {
  it('keeps whole events, says which were not kept, and takes the rest when there is room', async () => {
    const { child, url } = await startRoom();
    const id = await create(url);
    await addEvents(url, id, 0, events(0, 2));
    const line = JSON.stringify(eventAt(2)).length + 1;
    // Room for two and a half of the five events that come.
    limitFiles(child, statSync(fileOf(id, 'journal.jsonl')).size + Math.floor(2.5 * line));
    const full = await addEvents(url, id, 2, events(2, 7));
    expect(full.status).toBe(507);
    const problem = ProblemSchema.parse(await full.json());
    expect(problem).toMatchObject({ kept: 4, error: 'The disk is full: events 4 to 6 were not kept.', advice: /Make room/ });
    expect(readFileSync(fileOf(id, 'journal.jsonl'), 'utf8').endsWith('}\n')).toBe(true);
    expect(await read(url, id)).toMatchObject({ events: events(0, 4), faults: [], kept: 4 });

    limitFiles(child, 'unlimited');
    expect(await (await addEvents(url, id, 4, events(4, 7))).json()).toEqual({ kept: 7 });
    expect((await read(url, id)).events).toEqual(events(0, 7));
  }, STARTING * 1000); // prettier-ignore

  it('keeps whole samples, says how much was not kept, and takes the rest when there is room', async () => {
    const { child, url } = await startRoom();
    const id = await create(url);
    await addSound(url, id, 0, soundOf(0, 1000));
    limitFiles(child, 44 + 2 * 20_000 + 1);
    const full = await addSound(url, id, 1000, soundOf(1000, 60_000));
    expect(full.status).toBe(507);
    const { samples, error } = ProblemSchema.parse(await full.json());
    expect(error).toMatch(/^The disk is full: \d\.\d s of sound were not kept/);
    expect(samples).toBeGreaterThanOrEqual(12_000);
    expect(samples).toBeLessThanOrEqual(20_000);
    expect(await read(url, id)).toMatchObject({ samples });

    limitFiles(child, 'unlimited');
    expect(await (await addSound(url, id, samples!, soundOf(samples!, 60_000))).json()).toEqual({ samples: 60_000 });
    const wav = readFileSync(fileOf(id, 'sound.wav'));
    expect(new Uint8Array(wav.subarray(44))).toEqual(soundOf(0, 60_000));
    expect(wav.readUInt32LE(40)).toBe(120_000);
  }, STARTING * 1000); // prettier-ignore

  it('begins no half rehearsal and spoils no settings', async () => {
    const { child, url } = await startRoom();
    const settings = SettingsSchema.parse({ style: 'silent' });
    await json('PUT', `${url}api/settings`, settings);
    limitFiles(child, 10);
    const begun = { skill: 'hand-washing', variants: {}, style: 'coach', engine: 'test', startedAt: '2026-01-31T09:30:00Z' };
    expect((await json('POST', `${url}api/rehearsals`, begun)).status).toBe(507);
    expect((await json('PUT', `${url}api/settings`, { ...settings, volume: 0 })).status).toBe(507);
    expect(readdirSync(path.join(data, 'rehearsals'))).toEqual([]);
    expect(readdirSync(data).sort()).toEqual(['in-use.json', 'rehearsals', 'settings.json']);
    expect(await (await fetch(`${url}api/settings`)).json()).toEqual(settings);
  }, STARTING * 1000); // prettier-ignore
});

describe('the index of rehearsals', () => {
  it('is whole or made again whenever the host is killed while it is written', async () => {
    const first = await startRoom();
    const ids = [await create(first.url), await create(first.url), await create(first.url)];
    for (const id of ids) await addEvents(first.url, id, 0, events(0, 2));
    const before = await list(first.url);
    let kept = 2;
    const listing = async (): Promise<void> => {
      for (let n = 0; ; n++) {
        await addEvents(first.url, ids[0]!, kept, events(kept, kept + 1));
        kept++;
        const asked = list(first.url);
        if (n === 5) setImmediate(() => first.child.kill('SIGKILL'));
        await asked;
      }
    };
    await expect(listing()).rejects.toThrow();
    await kill(first.child);
    const second = await startRoom();
    expect(await list(second.url)).toEqual(before);
    // A power cut may leave it full of zeros.
    await kill(second.child);
    writeFileSync(path.join(data, 'rehearsals', 'index-202601.json'), Buffer.alloc(300));
    expect(await list((await startRoom()).url)).toEqual(before);
  }, (3 * STARTING + 10) * 1000); // prettier-ignore

  it.runIf(process.platform === 'linux')('that finds no room on the disk costs time, and no rehearsal', async () => {
    const { child, url } = await startRoom();
    const id = await create(url);
    await addEvents(url, id, 0, events(0, 2));
    limitFiles(child, 10);
    expect(await list(url)).toMatchObject([{ id, heard: 1 }]);
    expect(readdirSync(path.join(data, 'rehearsals'))).toEqual([id]);
    expect((await fetch(`${url}api/rehearsals/${id}`, { method: 'DELETE', headers: writerOf(id) })).status).toBe(204);
    expect(readdirSync(path.join(data, 'rehearsals'))).toEqual([]);
    expect(await list(url)).toEqual([]);
  }, STARTING * 1000); // prettier-ignore
});

describe('a data folder', () => {
  it('that a killed host held is taken over by the next start; one that is held is not', async () => {
    const first = await startRoom();
    await expect(startRoom()).rejects.toThrow(/The room ended with 0: [^]*in use by process/);
    await kill(first.child);
    const left = JSON.parse(readFileSync(path.join(data, 'in-use.json'), 'utf8')) as { pid: number };
    expect(left.pid).toBe(first.child.pid);
    const { child, url } = await startRoom();
    expect(JSON.parse(readFileSync(path.join(data, 'in-use.json'), 'utf8'))).toMatchObject({ pid: child.pid });
    expect(await list(url)).toEqual([]);
  }, (3 * STARTING) * 1000); // prettier-ignore

  it.runIf(process.platform === 'linux')('whose holder has stopped answering stays his', async () => {
    const first = await startRoom();
    first.child.kill('SIGSTOP');
    await expect(startRoom()).rejects.toThrow(/The room ended with 2: [^]* end that process/);
    first.child.kill('SIGCONT');
    expect(await list(first.url)).toEqual([]);
  }, (2 * STARTING + 10) * 1000); // prettier-ignore

  it.runIf(process.platform !== 'win32')(
    'that has become read-only is listed and played, and refuses what it cannot keep',
    async () => {
      const first = await startRoom();
      const id = await create(first.url);
      await addEvents(first.url, id, 0, events(0, 2));
      await addSound(first.url, id, 0, soundOf(0, 1000));
      await kill(first.child);
      const all = [
        data,
        ...readdirSync(data, { recursive: true }).map((name) => path.join(data, String(name))),
      ];
      // Root may write everywhere.
      const nobody = process.getuid?.() === 0 ? { uid: 65_534, gid: 65_534 } : {};
      for (const at of all) if (nobody.uid !== undefined) chownSync(at, nobody.uid, nobody.gid);
      for (const at of all) chmodSync(at, 0o555);
      const { url } = await startRoom(data, nobody);
      expect(await list(url)).toMatchObject([{ id, heard: 1 }]);
      expect((await read(url, id)).events).toEqual(events(0, 2));
      const wav = new Uint8Array(await (await fetch(`${url}api/rehearsals/${id}/sound`)).arrayBuffer());
      expect(wav.subarray(44)).toEqual(soundOf(0, 1000));
      const refused = await addEvents(url, id, 2, events(2, 3));
      expect([refused.status, ProblemSchema.parse(await refused.json()).advice]).toEqual([
        500,
        expect.stringMatching(/Let this user write there/),
      ]);
      for (const at of all) chmodSync(at, 0o755);
    },
    2 * STARTING * 1000,
  );

  it('that cannot be written to shows the screens all the same, and refuses what it cannot keep', async () => {
    const file = path.join(data, 'file');
    writeFileSync(file, '');
    const { url, output } = await startRoom(path.join(file, 'data'));
    expect(output()).toMatch(/could not be taken for this program alone/);
    expect((await fetch(`${url}api/library`)).status).toBe(200);
    await expect(create(url)).rejects.toThrow();
  }, STARTING * 1000); // prettier-ignore
});

it(
  'a journal with a garbage line in its middle opens, is marked, and names the line',
  async () => {
    const { url } = await startRoom();
    const id = await create(url);
    await addEvents(url, id, 0, events(0, 3));
    const file = fileOf(id, 'journal.jsonl');
    const lines = readFileSync(file, 'utf8').split('\n');
    writeFileSync(file, lines.with(2, '\u0000garbage').join('\n'));
    const { events: left, faults, kept } = await read(url, id);
    expect(left).toEqual([eventAt(0), eventAt(2)]);
    expect([kept, faults]).toMatchObject([3, [{ file, line: 3 }]]);
    const [summary] = await list(url);
    expect(summary).toMatchObject({ heard: 1, state: 'interrupted' });
    expect(summary!.note).toContain('journal.jsonl:3:1');
  },
  STARTING * 1000,
);
