import { mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { createServer, request as ask, type IncomingHttpHeaders } from 'node:http';
import { connect, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { DEFAULT_MODEL } from '../../models/catalog.ts';
import { FolderHeld } from '../disk/folderLock.ts';
import { SkillFolder } from '../library/skillFolder.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import {
  CreatedSchema,
  InstallProgressSchema,
  DemoSchema,
  LibrarySchema,
  ModelsSchema,
  MOST_JSON_BYTES,
  MOST_SOUND_BYTES,
  NewWriterSchema,
  ProblemSchema,
  RehearsalSchema,
  RehearsalsSchema,
  SettingsSchema,
  WRITER_HEADER,
  type NewRehearsal,
} from './api.ts';
import { startHost, USUAL_PORT, type Host } from './server.ts';

const BEGUN: NewRehearsal = {
  skill: 'hand-washing',
  variants: {},
  style: 'silent',
  engine: 'test',
  startedAt: '2026-01-31T09:30:00Z',
};
const BEGAN: RehearsalEvent = { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } };

let folder = '';
let host: Host;
const warnings: string[] = [];
/** What stands in for the network when a model is got. */
let network: typeof fetch = () =>
  Promise.reject(new TypeError('fetch failed', { cause: { code: 'ENOTFOUND' } }));

beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-host-'));
  const renderer = path.join(folder, 'renderer');
  await mkdir(path.join(renderer, 'assets'), { recursive: true });
  await writeFile(path.join(renderer, 'index.html'), '<!doctype html><title>Room</title>');
  for (const name of ['room-1a2b.js', 'kaldiWorker-C_3d-4.js'])
    await writeFile(path.join(renderer, 'assets', name), 'export {};');
  await writeFile(path.join(folder, 'secret.txt'), 'secret');
  host = await startHost({
    data: path.join(folder, 'data'),
    skills: await SkillFolder.open(path.join(folder, 'data')),
    renderer,
    port: 0,
    warn: (message) => warnings.push(message),
    effects: (report) => ({
      fetch: (...args) => network(...args),
      run: async () => ({ code: null, output: '' }),
      report,
    }),
  });
});
afterAll(async () => {
  await host.close();
  await rm(folder, { recursive: true });
});
afterEach(() => {
  vi.unstubAllEnvs();
  expect(warnings.splice(0)).toEqual([]);
});

const get = (where: string, init: RequestInit = {}): Promise<Response> =>
  fetch(new URL(where, host.url), init);
const json = (method: 'POST' | 'PUT', where: string, value: unknown): Promise<Response> =>
  get(where, { method, headers: { 'content-type': 'application/json' }, body: JSON.stringify(value) });
const problem = async (response: Response): Promise<string> => {
  const { error, where, advice } = ProblemSchema.parse(await response.json());
  expect(error && where && advice).not.toBe('');
  return `${response.status} ${error}`;
};
/** The tokens of the rehearsals that were begun. */
const writers = new Map<string, string>();
const create = async (): Promise<string> => {
  const { id, writer } = CreatedSchema.parse(await (await json('POST', '/api/rehearsals', BEGUN)).json());
  writers.set(id, writer);
  return id;
};
const writerOf = (id: string): Record<string, string> => ({ [WRITER_HEADER]: writers.get(id) ?? '' });
const sendEvents = (id: string, body: object, headers = writerOf(id)): Promise<Response> =>
  get(`/api/rehearsals/${id}/events`, {
    method: 'POST',
    headers: { ...headers, 'content-type': 'application/json' },
    body: JSON.stringify(body),
  });
const sound = (id: string, from: number, bytes: Uint8Array<ArrayBuffer>): Promise<Response> =>
  get(`/api/rehearsals/${id}/sound?from=${from}`, { method: 'POST', headers: writerOf(id), body: bytes });

/** A request as it is written, which fetch would tidy up: the path unnormalised, any Host. */
function raw(
  method: string,
  where: string,
  headers: Record<string, string>,
): Promise<{ status: number; text: string; headers: IncomingHttpHeaders }> {
  return new Promise((done, failed) => {
    const request = ask({ host: '127.0.0.1', port: host.port, method, path: where, headers }, (response) => {
      let text = '';
      response.on('data', (piece: Buffer) => (text += piece.toString()));
      response.on('end', () => done({ status: response.statusCode!, text, headers: response.headers }));
    });
    request.on('error', failed).end();
  });
}

describe('the host keeps to this machine', () => {
  it.each(['rebound.example', 'rebound.example:4517', '127.0.0.1.rebound.example', '192.168.1.5:4517'])(
    'and refuses a request for "%s"',
    async (name) => {
      const { status, text } = await raw('GET', '/api/rehearsals', { host: name });
      expect(status).toBe(403);
      expect(ProblemSchema.parse(JSON.parse(text)).error).toMatch(/only for the machine/);
    },
  );

  it.each(['127.0.0.1', 'localhost', '[::1]'])('and takes one for %s', async (name) => {
    expect((await raw('GET', '/api/rehearsals', { host: `${name}:${host.port}` })).status).toBe(200);
  });

  it.each([
    [{ origin: 'https://elsewhere.example' }],
    [{ origin: 'null' }],
    [{ origin: 'http://127.0.0.1:9' }],
    [{ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'no-cors' }],
    [{ 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'cors' }],
  ])('and refuses another page, as %j', async (headers) => {
    const own = { host: `127.0.0.1:${host.port}` };
    for (const method of ['GET', 'POST']) {
      expect((await raw(method, '/api/rehearsals', { ...own, ...headers })).status).toBe(403);
    }
    expect(await (await get('/api/rehearsals')).json()).toEqual([]);
  });

  it('and takes its own page', async () => {
    const own = `127.0.0.1:${host.port}`;
    const headers = { host: own, origin: `http://${own}`, 'sec-fetch-site': 'same-origin' };
    expect((await raw('GET', '/api/library', headers)).status).toBe(200);
  });

  it.each(['a b', '@', 'localhost:x'])('and refuses the name "%s", which is none', async (name) => {
    const { status, text, headers } = await raw('GET', '/api/rehearsals', { host: name });
    expect([status, ProblemSchema.safeParse(JSON.parse(text)).success]).toEqual([400, true]);
    expect(headers['content-security-policy']).toMatch(/^default-src 'none'/);
  });

  it('and isolates its page, which may ask nobody else', async () => {
    for (const where of ['/', '/api/library', '/nothing']) {
      const { headers } = await get(where);
      expect(headers.get('content-security-policy')).toMatch(
        /^default-src 'none'; script-src 'self' 'wasm-unsafe-eval';/,
      );
      expect(headers.get('content-security-policy')).not.toMatch(/unsafe-inline|'unsafe-eval'|\*|https?:/);
      expect(headers.get('cross-origin-opener-policy')).toBe('same-origin');
      expect(headers.get('cross-origin-embedder-policy')).toBe('require-corp');
      expect(headers.get('x-content-type-options')).toBe('nosniff');
    }
  });

  it('and lets the one worker that must make code out of text do so, and ask nobody else', async () => {
    const policy = async (where: string): Promise<string> =>
      (await get(where)).headers.get('content-security-policy')!;
    expect(await policy('/assets/kaldiWorker-C_3d-4.js')).toBe(
      "default-src 'none'; script-src 'self' 'wasm-unsafe-eval' 'unsafe-eval'; connect-src 'self'",
    );
    for (const other of ['/assets/room-1a2b.js', '/?/assets/kaldiWorker-C_3d-4.js', '/models/kaldi/vosk.js'])
      expect(await policy(other), other).not.toContain("'unsafe-eval'");
  });

  it('and listens on loopback only', async () => {
    const other = await new Promise<string>((done) => {
      const socket = connect(host.port, '127.0.0.2');
      socket.on('error', (error: NodeJS.ErrnoException) => done(error.code!));
      socket.on('connect', () => done('connected'));
    });
    expect(other).toBe('ECONNREFUSED');
  });
});

describe('the screens', () => {
  it('are served with their types', async () => {
    const page = await get('/');
    expect(page.headers.get('content-type')).toBe('text/html; charset=utf-8');
    expect(page.headers.get('cache-control')).toBe('no-cache');
    expect(await page.text()).toContain('Room');
    const script = await get('/assets/room-1a2b.js');
    expect(script.headers.get('content-type')).toMatch(/javascript/);
    expect(script.headers.get('cache-control')).toMatch(/immutable/);
  });

  it.each([
    '/../secret.txt', '/..%2fsecret.txt', '/%2e%2e/secret.txt', '/assets/..%2f..%2fsecret.txt', '/..%5csecret.txt',
    '//etc/passwd', '/%2fetc%2fpasswd', '/index.html%00', '/%', '/assets', '/nothing.js',
  ])('are all that is served: not %s', async (where) => {
    const { status, text } = await raw('GET', where, { host: `127.0.0.1:${host.port}` });
    expect([status, ProblemSchema.safeParse(JSON.parse(text)).success]).toEqual([404, true]);
  }); // prettier-ignore

  it('say so when they are not built', async () => {
    const bare = await startHost({
      data: folder,
      skills: await SkillFolder.open(folder),
      renderer: path.join(folder, 'no'),
      port: 0,
      warn: () => undefined,
    });
    expect(await problem(await fetch(bare.url))).toBe('503 The screens are not built.');
    await bare.close();
  });
});

describe('the library, settings and models', () => {
  it('are told as the page reads them', async () => {
    const library = LibrarySchema.parse(await (await get('/api/library')).json());
    expect(library.skills.map(({ id }) => id)).toContain('hand-washing');
    expect(library.faults).toEqual([]);

    const settings = SettingsSchema.parse(await (await get('/api/settings')).json());
    const set = { ...settings, style: 'silent' as const, microphone: 'abc' };
    expect(await (await json('PUT', '/api/settings', set)).json()).toEqual(set);
    expect(await (await get('/api/settings')).json()).toEqual(set);
    expect(await problem(await json('PUT', '/api/settings', { ...set, volume: 3 }))).toMatch(/^400 volume: /);
  });

  it('an installed model is said to be, and its bytes are had; no others', async () => {
    const models = ModelsSchema.parse(await (await get('/api/models')).json());
    const model = models.find(({ id }) => id === DEFAULT_MODEL)!;
    expect(model).toMatchObject({ installed: 'installed', licence: 'MIT', message: '' });
    const tokenizer = await get(`/models/${DEFAULT_MODEL}/tokenizer.bin`);
    expect((await tokenizer.arrayBuffer()).byteLength).toBe(249_974);
    const detector = await get('/models/detector/silero_vad_v5.onnx');
    expect([detector.status, (await detector.arrayBuffer()).byteLength > 1e6]).toEqual([200, true]);
    const kaldi = await get('/models/kaldi/vosk.js');
    expect([kaldi.status, (await kaldi.arrayBuffer()).byteLength > 5e6]).toEqual([200, true]);
    const judge = await get('/models/judge/judge.onnx');
    expect([judge.status, (await judge.arrayBuffer()).byteLength > 1e7]).toEqual([200, true]);
    for (const other of [
      'moonshine-tiny-en/other.bin',
      'judge/CARD.md',
      'toString/x',
      'nothing/tokenizer.bin',
      '..%2f..%2f/package.json',
      'detector/x',
    ])
      expect(await problem(await get(`/models/${other}`)), other).toMatch(/^404 /);
  });

  it('the built-in narration is told, and had as samples', async () => {
    const demo = DemoSchema.parse(await (await get('/api/demo')).json());
    expect(demo.skill).toBe('hand-washing');
    expect(demo.says.slice(0, 2)).toEqual([expect.stringMatching(/^Good morning/), 1.2]);
    const sound = new Int16Array(await (await get('/api/demo/sound')).arrayBuffer());
    const said = demo.says.reduce<number>((sum, each) => sum + (typeof each === 'number' ? each : 0), 0);
    expect(sound.length / 16_000).toBeGreaterThan(said + 20);
    expect(sound.some((x) => x > 1000)).toBe(true);
  });

  it('a missing or damaged one is said to be', async () => {
    const home = path.join(folder, 'models');
    vi.stubEnv('SINKSIDE_MODELS', home);
    const standing = async () => ModelsSchema.parse(await (await get('/api/models')).json())[0];
    expect(await standing()).toMatchObject({ installed: 'missing', message: /not here yet/ });
    await mkdir(path.join(home, DEFAULT_MODEL), { recursive: true });
    await writeFile(path.join(home, DEFAULT_MODEL, 'tokenizer.bin'), 'rubbish');
    expect(await standing()).toMatchObject({ installed: 'corrupt', message: /encoder_model\.ort/ });
  });

  it('getting one is told as it goes, to everybody who asks', async () => {
    vi.stubEnv('SINKSIDE_MODELS', path.join(folder, 'none'));
    let fail: (error: Error) => void = () => undefined;
    network = () => new Promise((_, failed) => (fail = failed));
    const first = await get(`/api/models/${DEFAULT_MODEL}/get`, { method: 'POST' });
    const second = await get(`/api/models/${DEFAULT_MODEL}/get`, { method: 'POST' });
    expect(first.headers.get('content-type')).toBe('text/event-stream');
    await vi.waitFor(() => expect(fail.length).toBe(1));
    fail(new TypeError('fetch failed', { cause: { code: 'ENOTFOUND' } }));
    for (const stream of [first, second]) {
      const events = (await stream.text())
        .split('\n\n')
        .filter((event) => event !== '')
        .map((event) => InstallProgressSchema.parse(JSON.parse(event.replace(/^data: /, ''))));
      expect(events.map(({ type }) => type)).toEqual(expect.arrayContaining(['source', 'failed', 'error']));
      expect(events.at(-1)).toMatchObject({ type: 'error', message: /could not be had/ });
    }
    expect(await problem(await get('/api/models/nothing/get', { method: 'POST' }))).toMatch(/^404 /);
  });
});

describe('a rehearsal', () => {
  it('is begun, added to, listed and read back', async () => {
    const id = await create();
    expect(await (await sendEvents(id, { from: 0, events: [BEGAN] })).json()).toEqual({ kept: 1 });
    expect(await (await sendEvents(id, { from: 0, events: [BEGAN] })).json()).toEqual({ kept: 1 });
    expect(await (await sound(id, 0, new Uint8Array(3200))).json()).toEqual({ samples: 1600 });

    const read = RehearsalSchema.parse(await (await get(`/api/rehearsals/${id}`)).json());
    expect(read).toEqual({
      header: { schema: 1, ...BEGUN },
      events: [BEGAN],
      faults: [],
      kept: 1,
      samples: 1600,
    });
    const listed = RehearsalsSchema.parse(await (await get('/api/rehearsals')).json());
    expect(listed.find((r) => r.id === id)).toMatchObject({
      state: 'interrupted',
      seconds: 0.1,
      title: 'Hand washing',
    });
  });

  it('is not begun from what is wrong, and the fault is named', async () => {
    expect(await problem(await json('POST', '/api/rehearsals', { ...BEGUN, skill: 'juggling' }))).toMatch(
      /^400 There is no skill "juggling"/,
    );
    expect(
      await problem(await json('POST', '/api/rehearsals', { ...BEGUN, variants: { tap: 'gold' } })),
    ).toMatch(/^400 "gold"/);
    expect(await problem(await json('POST', '/api/rehearsals', { ...BEGUN, startedAt: 'today' }))).toMatch(
      /^400 startedAt: /,
    );
    const headers = { 'content-type': 'application/json' };
    expect(
      await problem(await get('/api/rehearsals', { method: 'POST', headers, body: '{"skill"' })),
    ).toMatch(/^400 The body is not JSON/);
    expect(await problem(await get('/api/rehearsals', { method: 'POST', body: '{}' }))).toMatch(/^415 /);
    expect(await problem(await get('/api/rehearsals', { method: 'PUT' }))).toMatch(/^405 /);
  });

  it('that cannot be written is refused with what to do, and said to who runs the host', async () => {
    const said: string[] = [];
    const data = path.join(folder, 'secret.txt', 'data');
    const bare = await startHost({
      data,
      skills: await SkillFolder.open(data),
      renderer: folder,
      port: 0,
      warn: (message) => said.push(message),
    });
    const headers = { 'content-type': 'application/json' };
    const refused = await fetch(new URL('/api/rehearsals', bare.url), {
      method: 'POST',
      headers,
      body: JSON.stringify(BEGUN),
    });
    expect([refused.status, ProblemSchema.parse(await refused.json())]).toEqual([
      500,
      expect.objectContaining({ advice: expect.stringContaining('SINKSIDE_DATA') }),
    ]);
    expect(said.join()).toContain('POST /api/rehearsals: Error: ENOTDIR');
    await bare.close();
  });

  it('takes no event that is none, and none with a gap before it', async () => {
    const id = await create();
    expect(await problem(await sendEvents(id, { from: 0, events: [BEGAN, { type: 'flew' }] }))).toMatch(
      /^400 events\[1\]\.type: /,
    );
    const gap = await sendEvents(id, { from: 4, events: [BEGAN] });
    expect([gap.status, ProblemSchema.parse(await gap.json())]).toEqual([
      409,
      expect.objectContaining({ kept: 0 }),
    ]);
    const hole = await sound(id, 5, new Uint8Array(2));
    expect([hole.status, ProblemSchema.parse(await hole.json())]).toEqual([
      409,
      expect.objectContaining({ samples: 0 }),
    ]);
    expect(await problem(await sound(id, 0, new Uint8Array(3)))).toMatch(
      /^400 The sound ends inside a sample/,
    );
    expect(await problem(await get(`/api/rehearsals/${id}/sound?from=-1`, { method: 'POST' }))).toMatch(
      /^400 "-1"/,
    );
  });

  it('that is too large at once is refused, with or without its length said', async () => {
    const id = await create();
    expect(
      await problem(
        await sendEvents(id, {
          from: 0,
          events: [],
          more: 'x'.repeat(MOST_JSON_BYTES),
        }),
      ),
    ).toMatch(/^413 /);
    expect(await problem(await sound(id, 0, new Uint8Array(MOST_SOUND_BYTES + 2)))).toMatch(/^413 /);
    const piece = new Uint8Array(1 << 20);
    let left = MOST_SOUND_BYTES / piece.length + 1;
    const body = new ReadableStream({ pull: (to) => (left-- > 0 ? to.enqueue(piece) : to.close()) });
    const streamed = await get(`/api/rehearsals/${id}/sound?from=0`, {
      method: 'POST',
      headers: writerOf(id),
      body,
      duplex: 'half',
    } as RequestInit);
    expect(await problem(streamed)).toMatch(/^413 /);
    expect(await (await sound(id, 0, new Uint8Array(MOST_SOUND_BYTES))).json()).toEqual({
      samples: MOST_SOUND_BYTES / 2,
    });
  });

  it.each(['20990101T000000Z-hand-washing', '..', '%2e%2e%2fdata', '%', 'x'])(
    '"%s" is not there',
    async (id) => {
      for (const tail of ['', '/sound'])
        expect(
          (await raw('GET', `/api/rehearsals/${id}${tail}`, { host: `127.0.0.1:${host.port}` })).status,
        ).toBe(404);
      if (id === '..') return;
      expect(await problem(await sendEvents(id, { from: 0, events: [] }))).toMatch(/^404 /);
      expect(await problem(await sound(id, 0, new Uint8Array(2)))).toMatch(/^404 /);
    },
  );
});

describe('two windows with one rehearsal', () => {
  it('never write it both: who lost it is told, nothing is dropped, and the rest goes into one of its own', async () => {
    const id = await create();
    await sendEvents(id, { from: 0, events: [BEGAN] });
    const taken = await get(`/api/rehearsals/${id}/writer`, { method: 'POST' });
    const next = { [WRITER_HEADER]: NewWriterSchema.parse(await taken.json()).writer };
    await sendEvents(id, { from: 1, events: [{ type: 'ended', at: 5 }] }, next);

    const mine: RehearsalEvent = { type: 'ended', at: 9 };
    const refused = await sendEvents(id, { from: 1, events: [mine] });
    expect([refused.status, ProblemSchema.parse(await refused.json())]).toEqual([
      409,
      expect.objectContaining({ conflict: true, advice: expect.stringMatching(/copy/) }),
    ]);
    expect((await sound(id, 0, new Uint8Array(2))).status).toBe(409);
    const made = await json('POST', `/api/rehearsals/${id}/copy`, { events: 1, samples: 0 });
    const own = CreatedSchema.parse(await made.json());
    const kept = await sendEvents(own.id, { from: 1, events: [mine] }, { [WRITER_HEADER]: own.writer });
    expect([made.status, await kept.json()]).toEqual([201, { kept: 2 }]);
    const read = async (which: string) =>
      RehearsalSchema.parse(await (await get(`/api/rehearsals/${which}`)).json());
    expect((await read(id)).events).toEqual([BEGAN, { type: 'ended', at: 5 }]);
    expect((await read(own.id)).events).toEqual([BEGAN, mine]);
  });

  it('are told where other events stand already, though the window may write', async () => {
    const id = await create();
    await sendEvents(id, { from: 0, events: [BEGAN] });
    const other = await sendEvents(id, { from: 0, events: [{ type: 'ended', at: 1 }] });
    expect([other.status, ProblemSchema.parse(await other.json())]).toEqual([
      409,
      expect.objectContaining({
        conflict: true,
        kept: 1,
        error: 'From event 0 on other events are kept already.',
      }),
    ]);
  });
});

describe('deleting a rehearsal', () => {
  const remove = (id: string, headers = {}): Promise<Response> =>
    get(`/api/rehearsals/${id}`, { method: 'DELETE', headers });

  it('takes away its folder; while it is being written only its writer may', async () => {
    const id = await create();
    const refused = await remove(id);
    expect([refused.status, ProblemSchema.parse(await refused.json()).conflict]).toEqual([409, true]);
    expect((await remove(id, writerOf(id))).status).toBe(204);
    expect(await readdir(path.join(folder, 'data', 'rehearsals'))).not.toContain(id);
    expect(await problem(await remove(id))).toMatch(/^404 /);
    expect(await problem(await remove('%2e%2e%2fdata'))).toMatch(/^404 /);
  });
});

describe('two hosts over one data folder', () => {
  it('are not: the second says who holds it, until the first has closed', async () => {
    const options = { data: path.join(folder, 'shared'), skills: await SkillFolder.open(folder), renderer: folder, port: 0, warn: () => undefined };
    const first = await startHost(options);
    const refused = await startHost(options).catch((error: unknown) => error);
    expect(refused).toBeInstanceOf(FolderHeld);
    expect(refused).toMatchObject({ url: first.url, answers: true, holder: { pid: process.pid } });
    await first.close();
    await (await startHost(options)).close();
  });
}); // prettier-ignore

describe('the sound of a rehearsal', () => {
  it('is a WAV file of the length it has, whatever its header says, and any range of it is had, packed or not', async () => {
    const id = await create();
    const bytes = Uint8Array.from({ length: 100_000 }, (_, n) => n % 251);
    await sound(id, 0, bytes);
    const file = path.join(folder, 'data', 'rehearsals', id, 'sound.wav');
    const kept = await readFile(file);
    const stale = Buffer.from(kept);
    stale.writeUInt32LE(7, 40);
    await writeFile(file, stale);

    await isHad(id, kept);
    await sendEvents(id, { from: 0, events: [BEGAN, { type: 'ended', at: 3 }] });
    await vi.waitFor(
      async () => expect(await readdir(path.dirname(file))).not.toContain('sound.wav'),
      20_000,
    );
    await isHad(id, kept);
    expect(RehearsalSchema.parse(await (await get(`/api/rehearsals/${id}`)).json()).samples).toBe(50_000);
  });

  /** Asks for the whole and for ranges, there and not there. */
  async function isHad(id: string, kept: Buffer): Promise<void> {
    const whole = await get(`/api/rehearsals/${id}/sound`);
    expect([whole.status, whole.headers.get('content-type'), whole.headers.get('accept-ranges')]).toEqual([200, 'audio/wav', 'bytes']);
    expect(Buffer.from(await whole.arrayBuffer()).equals(kept)).toBe(true);
    for (const [range, from, to] of [['0-', 0, 100_044], ['10-60', 10, 61], ['44-44', 44, 45], ['0-43', 0, 44], ['-5', 100_039, 100_044], ['5000-999999999', 5000, 100_044]] as const) {
      const part = await get(`/api/rehearsals/${id}/sound`, { headers: { range: `bytes=${range}` } });
      expect([part.status, part.headers.get('content-range')]).toEqual([206, `bytes ${from}-${to - 1}/100044`]);
      expect(Buffer.from(await part.arrayBuffer()).equals(kept.subarray(from, to)), range).toBe(true);
    }
    const beyond = await get(`/api/rehearsals/${id}/sound`, { headers: { range: 'bytes=100044-' } });
    expect(beyond.headers.get('content-range')).toBe('bytes */100044');
    expect(await problem(beyond)).toMatch(/^416 /);
    for (const range of ['bytes=5-1', 'bytes=0-1,5-6', 'lines=1-2', 'bytes=-']) {
      expect((await get(`/api/rehearsals/${id}/sound`, { headers: { range } })).status, range).toBe(200);
    }
  } // prettier-ignore

  it('that is packed and damaged is refused with what to do', async () => {
    const id = await create();
    await sound(id, 0, new Uint8Array(3200));
    await rm(path.join(folder, 'data', 'rehearsals', id, 'sound.wav'));
    await writeFile(path.join(folder, 'data', 'rehearsals', id, 'sound.flac'), 'fLaC');
    expect(await problem(await get(`/api/rehearsals/${id}/sound`))).toMatch(
      /^422 \S*sound.flac is damaged: /,
    );
  });
});

describe('the port', () => {
  const options = async (name: string) => ({
    data: path.join(folder, name),
    skills: await SkillFolder.open(path.join(folder, name)),
    renderer: folder,
    warn: () => undefined,
  });

  it('is the usual one or the next that is free', async () => {
    const [a, b] = [await startHost(await options('a')), await startHost(await options('b'))];
    expect(a.port).toBeGreaterThanOrEqual(USUAL_PORT);
    expect(b.port).toBeGreaterThan(a.port);
    await Promise.all([a.close(), b.close()]);
  });

  it('that is given and taken is not changed for another', async () => {
    const other = createServer();
    await new Promise<void>((done) => other.listen(0, '127.0.0.1', done));
    const { port } = other.address() as AddressInfo;
    await expect(startHost({ ...(await options('c')), port })).rejects.toMatchObject({ code: 'EADDRINUSE' });
    other.close();
  });
});
