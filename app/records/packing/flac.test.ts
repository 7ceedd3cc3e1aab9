import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DamagedSound, decode, DIGEST_AT, encode, streamInfo, streamInfoOf } from './flac.ts';

const run = promisify(execFile);
let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-flac-'));
});
afterAll(() => rm(folder, { recursive: true }));

/** A second and a half of a tone that swells, with noise in it from a seed. */
const SOUND = Buffer.from(
  Int16Array.from(
    { length: 24_000 },
    (_, i) => (i / 3) * Math.sin(i / 9) + ((i * 1_103_515_245 + 12_345) % 97),
  ).buffer,
);

async function pack(sound: Uint8Array, pieceBytes = 16_000): Promise<Buffer> {
  const pieces = async function* () {
    for (let at = 0; at < sound.length; at += pieceBytes) yield sound.subarray(at, at + pieceBytes);
  };
  const made = [];
  for await (const piece of encode(pieces(), sound.length / 2)) made.push(piece);
  return Buffer.concat(made);
}

async function unpack(flac: Uint8Array): Promise<Buffer> {
  const file = path.join(folder, 'try.flac');
  await writeFile(file, flac);
  const pieces = [];
  for await (const piece of decode(file)) pieces.push(piece);
  return Buffer.concat(pieces);
}

describe('a FLAC file', () => {
  it('tells of its sound in its head', () => {
    // RFC 9639, appendix D.1, example file 1: the fields' values are given there.
    const example = Buffer.from(
      '664c614380000022100010000000' +
        '0f00000f0ac442f0000000013e84b41807dc690307586a3dad1a2e0f' +
        'fff869180000bf0358fd03128baa9a',
      'hex',
    );
    expect(streamInfo(example)).toEqual({ rate: 44_100, channels: 2, bits: 16, samples: 1 });
    expect(streamInfo(example.subarray(0, 41))).toBeNull();
    expect(streamInfo(Buffer.from('RIFF'.padEnd(60)))).toBeNull();
  });

  it('gives back every sample, whatever they are and in whatever pieces they came', async () => {
    const sounds = fc.oneof(
      fc.int16Array({ minLength: 1, maxLength: 20_000 }),
      fc.constantFrom(
        new Int16Array(9000),
        new Int16Array(9000).fill(-32_768),
        Int16Array.from({ length: 9000 }, (_, i) => (i % 2 ? -32_768 : 32_767)),
      ),
    );
    await fc.assert(
      fc.asyncProperty(sounds, fc.integer({ min: 1, max: 9000 }), async (samples, piece) => {
        const sound = Buffer.from(samples.buffer, samples.byteOffset, samples.byteLength);
        expect((await unpack(await pack(sound, 2 * piece))).equals(sound)).toBe(true);
      }),
      { numRuns: 60 },
    );
  });

  it('is read alike by another program, and what that packs is read here', async () => {
    const file = path.join(folder, 'ours.flac');
    await writeFile(file, await pack(SOUND));
    const pcm = path.join(folder, 'pcm');
    await run('ffmpeg', ['-v', 'error', '-y', '-i', file, '-f', 's16le', pcm]);
    expect((await readFile(pcm)).equals(SOUND)).toBe(true);
    const theirs = path.join(folder, 'theirs.flac');
    const input = ['-f', 's16le', '-ar', '16000', '-ac', '1', '-i', pcm];
    await run('ffmpeg', ['-v', 'error', '-y', ...input, '-compression_level', '12', theirs]);
    expect((await unpack(await readFile(theirs))).equals(SOUND)).toBe(true);
    expect(await streamInfoOf(theirs)).toEqual({ rate: 16_000, channels: 1, bits: 16, samples: 24_000 });
  });

  it('that is damaged, cut short or of another kind is refused', async () => {
    const flac = await pack(SOUND);
    const flipped = Buffer.from(flac);
    flipped[flac.length >> 1]! ^= 1;
    const other = Buffer.from(flac);
    other.fill(7, DIGEST_AT, DIGEST_AT + 16);
    const stereo = Buffer.from(flac);
    stereo[20]! ^= 2;
    const longer = Buffer.from(flac);
    longer[25]! ^= 1;
    for (const bad of [flipped, other, stereo, longer, flac.subarray(0, -1), flac.subarray(0, 4000), flac.subarray(0, 10), Buffer.alloc(0)])
      await expect(unpack(bad)).rejects.toThrow(DamagedSound);
    // Where the encoder left zeros no digest is compared.
    expect((await unpack(flac)).equals(SOUND)).toBe(true);
  }); // prettier-ignore
});
