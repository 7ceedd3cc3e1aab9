import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { zipSync } from 'fflate';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { loadModel, ModelCorrupt, ModelMissing } from './load.ts';

let home = '';
beforeEach(() => {
  home = mkdtempSync(path.join(tmpdir(), 'sinkside-load-'));
  vi.stubEnv('SINKSIDE_MODELS', home);
  vi.stubEnv('SINKSIDE_MODEL_DIR', '');
});
afterEach(() => {
  vi.unstubAllEnvs();
  rmSync(home, { recursive: true });
});

const ort = Buffer.from('\x18\0\0\0ORTM rest of the model', 'latin1');
/** Three entries: an empty one, one of two bytes, one of 130 bytes. */
const tokens = Buffer.concat([Buffer.from([0, 2, 97, 98, 130, 1]), Buffer.alloc(130, 99)]);

function folder(files: Record<string, Buffer>): string {
  const where = path.join(home, 'by-hand');
  mkdirSync(where, { recursive: true });
  for (const [name, data] of Object.entries(files)) writeFileSync(path.join(where, name), data);
  return where;
}
const whole = { 'encoder_model.ort': ort, 'decoder_model_merged.ort': ort, 'tokenizer.bin': tokens };

async function failure(idOrDir?: string): Promise<Error> {
  return loadModel('moonshine', idOrDir).then(
    () => new Error('it was loaded'),
    (error: Error) => error,
  );
}

describe('loading a model', () => {
  it('that is not there says what to run', async () => {
    const error = await failure();
    expect(error).toBeInstanceOf(ModelMissing);
    expect(error.message).toContain('npx sinkside models get moonshine-tiny-en');
  });

  it('by a name that is neither an id nor a folder says so', async () => {
    const error = await failure('no-such-model');
    expect(error).toBeInstanceOf(ModelMissing);
    expect(error.message).toMatch(/"no-such-model".*moonshine-tiny-en/);
  });

  it('for another engine is refused', async () => {
    expect((await failure('vosk-small-en-us')).message).toMatch(/vosk engine.*--engine vosk/);
  });

  it('that was placed and then damaged names the file', async () => {
    const where = path.join(home, 'moonshine-tiny-en');
    mkdirSync(where);
    for (const [name, data] of Object.entries(whole)) writeFileSync(path.join(where, name), data);
    const error = await failure();
    expect(error).toBeInstanceOf(ModelCorrupt);
    expect(error.message).toMatch(/encoder_model\.ort has a wrong checksum.*models get/);
  });

  it('that was placed and lacks a file names it', async () => {
    mkdirSync(path.join(home, 'moonshine-tiny-en'));
    const error = await failure();
    expect(error).toBeInstanceOf(ModelCorrupt);
    expect(error.message).toContain('has no encoder_model.ort');
  });

  it('from a folder takes an unknown model, with a warning', async () => {
    const where = folder(whole);
    const model = await loadModel('moonshine', where);
    expect(model).toMatchObject({
      id: 'by-hand',
      warnings: [expect.stringContaining('could not be checked')],
    });
    expect(model.files.get('tokenizer.bin')).toEqual(tokens);
    vi.stubEnv('SINKSIDE_MODEL_DIR', where);
    expect((await loadModel('moonshine')).id).toBe('by-hand');
  });

  it.each<[string, Record<string, Buffer>, RegExp]>([
    [
      'a missing file',
      { 'encoder_model.ort': ort, 'tokenizer.bin': tokens },
      /has no decoder_model_merged\.ort/,
    ],
    [
      'a model that is none',
      { ...whole, 'encoder_model.ort': Buffer.from('<html>not found</html>') },
      /encoder_model\.ort .*no ORT model/,
    ],
    [
      'an empty model',
      { ...whole, 'decoder_model_merged.ort': Buffer.alloc(0) },
      /decoder_model_merged\.ort .*no ORT model/,
    ],
    [
      'tokens that break off',
      { ...whole, 'tokenizer.bin': tokens.subarray(0, -1) },
      /tokenizer\.bin .*breaks off/,
    ],
    ['no tokens', { ...whole, 'tokenizer.bin': Buffer.alloc(0) }, /tokenizer\.bin .*empty/],
  ])('from a folder with %s is refused', async (_, files, message) => {
    const error = await failure(folder(files));
    expect(error).toBeInstanceOf(ModelCorrupt);
    expect(error.message).toMatch(message);
  });
});

describe('loading a model of Vosk’s format', () => {
  const files: Record<string, Uint8Array<ArrayBuffer>> = {
    'am/final.mdl': new Uint8Array(9).fill(1),
    'conf/mfcc.conf': new Uint8Array(2),
    'graph/HCLr.fst': new Uint8Array(3),
    'graph/Gr.fst': new Uint8Array(4),
  };
  const zip = (members = files): Uint8Array =>
    zipSync(
      Object.fromEntries(Object.entries(members).map(([name, data]) => [`some-model-0.1/${name}`, data])),
    );
  const place = (name: string, data: Uint8Array): string => {
    const where = path.join(home, name);
    mkdirSync(path.dirname(where), { recursive: true });
    writeFileSync(where, data);
    return where;
  };
  const failed = (which: string): Promise<Error> =>
    loadModel('vosk', which).then(
      () => new Error('it was loaded'),
      (error: Error) => error,
    );

  it('takes its archive, a folder that holds the archive, or its folder', async () => {
    const archive = place('by-hand/some-model.zip', zip());
    for (const [name, data] of Object.entries(files)) place(`unpacked/${name}`, data);
    for (const [which, id] of [
      [archive, 'some-model'],
      [path.dirname(archive), 'by-hand'],
      [path.join(home, 'unpacked'), 'unpacked'],
    ] as const) {
      const model = await loadModel('vosk', which);
      expect(model).toMatchObject({
        engine: 'vosk',
        id,
        warnings: [expect.stringContaining('could not be checked')],
      });
      expect([...model.files].map(([name, data]) => [name, data.length]).sort()).toEqual(
        Object.entries(files)
          .map(([name, data]) => [name, data.length])
          .sort(),
      );
    }
    vi.stubEnv('SINKSIDE_MODEL_DIR', archive);
    expect((await loadModel('vosk')).id).toBe('some-model');
  });

  it.each<[string, () => string, RegExp]>([
    [
      'a truncated archive',
      () => place('x/m.zip', zip().subarray(0, 200)),
      /m\.zip cannot be used: it is damaged/,
    ],
    ['no archive at all', () => place('x/m.zip', Buffer.from('<html>')), /neither a \.zip nor a \.tar\.gz/],
    ['a folder without a model', () => path.dirname(place('x/readme', zip())), /no am\/final\.mdl/],
    [
      'a model that lacks a part',
      () => place('x/m.zip', zip({ ...files, 'conf/mfcc.conf': new Uint8Array(0) })),
      /no conf\/mfcc\.conf \(how sound is measured\)/,
    ],
  ])('refuses %s', async (_, make, message) => {
    const error = await failed(make());
    expect(error).toBeInstanceOf(ModelCorrupt);
    expect(error.message).toMatch(message);
  });

  it('that is nowhere says so', async () => {
    const error = await failed('no-such-model');
    expect(error).toBeInstanceOf(ModelMissing);
    expect(error.message).toMatch(
      /"no-such-model".*neither a folder, an archive nor one of.*vosk-small-en-us/,
    );
  });

  it('checks a placed one against the digest that was recorded when it came', async () => {
    const id = 'vosk-small-en-us';
    const name = 'vosk-model-small-en-us-0.15.zip';
    // Once: an archive tells the time it was made.
    const archive = zip();
    const entry = {
      bytes: archive.length,
      sha256: createHash('sha256').update(archive).digest('hex'),
      from: 'there',
    };
    place(`${id}/${name}`, archive);
    // Put there by hand: nothing is known of it but its shape.
    expect((await loadModel('vosk', id)).files.size).toBe(4);
    place(`${id}/recorded.json`, Buffer.from(JSON.stringify({ [name]: entry })));
    expect(await loadModel('vosk')).toMatchObject({ id, warnings: [] });
    place(`${id}/${name}`, zip({ ...files, 'am/final.mdl': new Uint8Array(9).fill(2) }));
    const error = await failed(id);
    expect(error).toBeInstanceOf(ModelCorrupt);
    expect(error.message).toMatch(/wrong checksum.*models get vosk-small-en-us/);
  });
});
