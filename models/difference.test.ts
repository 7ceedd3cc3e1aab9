import { createHash } from 'node:crypto';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { constants, deflateSync } from 'node:zlib';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { parseCatalog, type Model } from './catalog.ts';
import { makeFromDifference } from './difference.ts';
import { installModel, InstallFailed, type InstallEvent } from './install.ts';
import { verifyModel } from './verify.ts';

const sha256 = (data: Uint8Array): string => createHash('sha256').update(data).digest('hex');
type Files = Readonly<Record<string, Buffer>>;

/** The invented base: two files that the tuned model changes, and one that it shares. */
const BASE: Files = {
  'encoder.ort': Buffer.from(Array.from({ length: 100_000 }, (_, n) => (n * 31) % 256)),
  'decoder.ort': Buffer.from(Array.from({ length: 50_000 }, (_, n) => (n * 17) % 256)),
  'tokens.bin': Buffer.from('the tokens'),
};
/** Every third byte is one more or less: from 255 that leads to 0, and from 0 to 255. */
const tuned = (data: Buffer): Buffer => Buffer.from(data.map((byte, n) => byte + [0, 1, -1][n % 3]!));
const RESULT: Files = {
  ...BASE,
  'encoder.ort': tuned(BASE['encoder.ort']!),
  'decoder.ort': tuned(BASE['decoder.ort']!),
};
/** Not the order of the model's files. */
const CHANGED = ['decoder.ort', 'encoder.ort'];

function differenceOf(base: Files, result: Files): Buffer {
  const raw = CHANGED.map((name) => result[name]!.map((byte, n) => byte - base[name]![n]!));
  return deflateSync(Buffer.concat(raw), { level: 9, strategy: constants.Z_HUFFMAN_ONLY });
}

const filesOf = (files: Files): Model['files'] =>
  Object.entries(files).map(([name, data]) => ({ path: name, bytes: data.length, sha256: sha256(data) }));

/** The base and the tuned model as a catalogue has them; the difference is the one given. */
function models(difference: Buffer, result: Files = RESULT): { base: Model; model: Model } {
  const both = { engine: 'moonshine', language: 'en', licence: 'MIT', note: '' };
  const source = {
    kind: 'difference',
    base: 'base',
    file: 'difference.zlib',
    bytes: difference.length,
    sha256: sha256(difference),
    changes: CHANGED.map((name) => ({ path: name, baseSha256: sha256(BASE[name]!) })),
    madeBy: 'a test',
  };
  const { models } = parseCatalog({
    default: 'base',
    models: [
      {
        ...both,
        id: 'base',
        files: filesOf(BASE),
        sources: [{ kind: 'web', base: 'http://models.invalid/' }],
      },
      { ...both, id: 'tuned', files: filesOf(result), sources: [source] },
    ],
  });
  return { base: models[0]!, model: models[1]! };
}

const DIFFERENCE = differenceOf(BASE, RESULT);
const { base, model } = models(DIFFERENCE);

let home = '';
let shipped = '';
/** Addresses that were asked for. */
let asked: string[] = [];
/** A server that has the base. */
const serving = (async (url: string) => {
  asked.push(url);
  return new Response(new Uint8Array(BASE[path.basename(url)]!));
}) as typeof fetch;
const noNetwork: typeof fetch = () =>
  Promise.reject(new TypeError('fetch failed', { cause: { code: 'ENOTFOUND' } }));

beforeEach(() => {
  home = mkdtempSync(path.join(tmpdir(), 'sinkside-difference-'));
  shipped = mkdtempSync(path.join(tmpdir(), 'sinkside-shipped-'));
  asked = [];
  mkdirSync(path.join(shipped, 'tuned'));
  writeFileSync(inProgram(), DIFFERENCE);
});
afterEach(() => {
  rmSync(home, { recursive: true });
  rmSync(shipped, { recursive: true });
});

const inProgram = (): string => path.join(shipped, 'tuned', 'difference.zlib');
function placeBase(files: Files = BASE): void {
  mkdirSync(path.join(home, 'base'));
  for (const [name, data] of Object.entries(files)) writeFileSync(path.join(home, 'base', name), data);
}

async function install(
  what: Model = model,
  network: typeof fetch = serving,
): Promise<{ outcome: unknown; events: InstallEvent[] }> {
  const events: InstallEvent[] = [];
  const effects = {
    fetch: network,
    run: async () => ({ code: null, output: '' }),
    report: (event: InstallEvent) => events.push(event),
  };
  const outcome = await installModel(what, home, effects, { models: [base, what], folder: shipped }).catch(
    (error: Error) => error,
  );
  return { outcome, events };
}

function expectPlaced(): void {
  for (const [name, data] of Object.entries(RESULT))
    expect(readFileSync(path.join(home, 'tuned', name)).equals(data), name).toBe(true);
  for (const [name, data] of Object.entries(BASE))
    expect(readFileSync(path.join(home, 'base', name)).equals(data), name).toBe(true);
  expect(readdirSync(home).sort()).toEqual(['base', 'tuned']);
}

describe('a model made from another by a difference', () => {
  it('is made of the base that is got first, and both stay', async () => {
    const { outcome, events } = await install();
    expect(outcome).toBe('placed');
    expectPlaced();
    expect(asked.length).toBe(3);
    const total = Object.values(BASE).reduce((sum, data) => sum + data.length, 0);
    expect(events.filter(({ type }) => type === 'source')).toEqual([
      { type: 'source', name: 'models.invalid', totalBytes: total },
      { type: 'source', name: 'base and our difference', totalBytes: total },
    ]);
    expect(events.at(-1)).toEqual({ type: 'bytes', bytes: total });
    expect((await install()).outcome).toBe('already there');
  });

  it('needs no network where the base is there', async () => {
    placeBase();
    expect((await install(model, noNetwork)).outcome).toBe('placed');
    expectPlaced();
  });

  it('is made again where it was damaged, or a killed run left half of it', async () => {
    placeBase();
    mkdirSync(path.join(home, 'tuned'));
    writeFileSync(path.join(home, 'tuned', 'tokens.bin'), 'the tokenZ');
    mkdirSync(path.join(home, '.tuned.part'));
    writeFileSync(path.join(home, '.tuned.part', 'encoder.ort'), RESULT['encoder.ort']!.subarray(0, 1000));
    expect((await verifyModel(model, home)).state).toBe('damaged');
    expect((await install(model, noNetwork)).outcome).toBe('placed');
    expectPlaced();
  });

  it('and its base, both asked for at once, are got once', async () => {
    const [one, other] = await Promise.all([install(base), install()]);
    expect([one.outcome, other.outcome]).toEqual(['placed', 'placed']);
    expect(asked.length).toBe(3);
    expectPlaced();
  });

  it('without a base to be had says what to do, and leaves nothing', async () => {
    const { outcome } = await install(model, noNetwork);
    expect(outcome).toBeInstanceOf(InstallFailed);
    expect(String(outcome)).toMatch(
      /tuned is made from base, which could not be installed\.[^]*By hand:[^]*Once base is there, run: npx sinkside models get tuned$/,
    );
    expect(readdirSync(home).filter((name) => name.includes('tuned'))).toEqual([]);
  });

  it.each<[string, Files]>([
    ['a byte of a file that the difference changes', { 'encoder.ort': tuned(BASE['encoder.ort']!) }],
    ['the length of one', { 'decoder.ort': BASE['decoder.ort']!.subarray(1) }],
    ['a byte of one that it leaves', { 'tokens.bin': Buffer.from('the tokenZ') }],
  ])('refuses a base changed in %s, and leaves it as it is', async (_, change) => {
    const [[name, data]] = Object.entries(change) as [[string, Buffer]];
    placeBase({ ...BASE, ...change });
    const { outcome } = await install();
    expect(outcome).toBeInstanceOf(InstallFailed);
    expect(String(outcome)).toContain(
      `${path.join(home, 'base', name)} is not the published file that tuned was made from: it has another ` +
        `checksum. Run: npx sinkside models get base, then again: npx sinkside models get tuned`,
    );
    expect(asked).toEqual([]);
    expect(readFileSync(path.join(home, 'base', name)).equals(data)).toBe(true);
    expect(readdirSync(home)).toEqual(['base']);
    // What the message says helps.
    expect((await install(base)).outcome).toBe('placed');
    expect((await install()).outcome).toBe('placed');
    expectPlaced();
  });

  it('refuses a base that lacks a file', async () => {
    placeBase();
    rmSync(path.join(home, 'base', 'decoder.ort'));
    expect(String((await install()).outcome)).toMatch(
      /decoder\.ort cannot be read \(ENOENT\)\. Run: .*get base/,
    );
    expect(readdirSync(home)).toEqual(['base']);
  });

  it.each<[string, (difference: Buffer) => Buffer | null, RegExp]>([
    ['is missing', () => null, /difference\.zlib is missing\. Install the program again/],
    ['is cut short', (data) => data.subarray(0, -10), /difference\.zlib has a wrong size, so it is not used/],
    [
      'has a wrong byte',
      (data) => Buffer.from(data.map((byte, n) => (n === 5000 ? byte ^ 1 : byte))),
      /difference\.zlib has a wrong checksum, so it is not used\. Install the program again/,
    ],
  ])('refuses a difference that %s', async (_, spoil, why) => {
    placeBase();
    rmSync(inProgram());
    const spoilt = spoil(DIFFERENCE);
    if (spoilt) writeFileSync(inProgram(), spoilt);
    const { outcome } = await install();
    expect(outcome).toBeInstanceOf(InstallFailed);
    expect(String(outcome)).toMatch(why);
    expect(String(outcome)).not.toContain('By hand');
    expect(readdirSync(home)).toEqual(['base']);
  });

  // Its checksum is the catalogue's here: the fault was there when it was made.
  it.each<[string, Buffer, RegExp]>([
    ['no zlib stream', Buffer.from('no stream at all'), /is no difference of 150000 bytes/],
    ['too short', deflateSync(Buffer.alloc(149_999)), /is no difference of 150000 bytes/],
    ['too long', deflateSync(Buffer.alloc(150_001)), /is no difference of 150000 bytes/],
    ['torn', DIFFERENCE.subarray(0, 20_000), /is no difference of 150000 bytes/],
    [
      'of other weights',
      deflateSync(Buffer.alloc(150_000, 1)),
      /turns encoder\.ort of base into a file with a wrong checksum, so it is not used/,
    ],
  ])('refuses a difference that is %s', async (_, difference, why) => {
    placeBase();
    writeFileSync(inProgram(), difference);
    const { outcome } = await install(models(difference).model);
    expect(outcome).toBeInstanceOf(InstallFailed);
    expect(String(outcome)).toMatch(why);
    expect(readdirSync(home)).toEqual(['base']);
  });

  it.skipIf(!existsSync('/dev/full'))(
    'says so when the disk is full, and leaves nothing but the base',
    async () => {
      placeBase();
      // The kernel's own full device: whatever is written there fails with ENOSPC.
      mkdirSync(path.join(home, '.tuned.part'));
      symlinkSync('/dev/full', path.join(home, '.tuned.part', 'decoder.ort'));
      const { outcome } = await install();
      expect(outcome).toBeInstanceOf(InstallFailed);
      expect(String(outcome)).toMatch(/disk is full: tuned was not installed\. It takes 1 MB/);
      expect(readdirSync(home)).toEqual(['base']);
    },
  );
});

it.each([
  ['Huffman codes alone', '780105c101010000004020fe8fa6c2300cc3300cc3300cc3300cc3300cc306cb331600'],
  ['the usual strategy', '78dafbcfc0f89f120400cb331600'],
])('what zlib of Python wrote is read: %s', async (_, stream) => {
  const before = Buffer.from(Array.from({ length: 64 }, (_, n) => (n * 7) % 256));
  const after = Buffer.from(before.map((byte, n) => byte + (n % 3) - 1));
  const difference = Buffer.from(stream, 'hex');
  writeFileSync(path.join(home, 'encoder.ort'), before);
  writeFileSync(path.join(shipped, 'difference.zlib'), difference);
  const source = {
    kind: 'difference' as const,
    base: 'base',
    file: 'difference.zlib',
    bytes: difference.length,
    sha256: sha256(difference),
    changes: [{ path: 'encoder.ort', baseSha256: sha256(before) }],
    madeBy: 'models/recipe/ear',
  };
  const small = { ...model, files: filesOf({ 'encoder.ort': after }), sources: [source] };
  await makeFromDifference(small, source, { base: home, own: shipped, staging: shipped }, () => undefined);
  expect(readFileSync(path.join(shipped, 'encoder.ort')).equals(after)).toBe(true);
});
