import { copyFile, open, rename } from 'node:fs/promises';
import path from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { flushFolder, statOf } from '../../disk/wholeFile.ts';
import { HEADER_BYTES, samplesIn, wavHeader } from '../soundTrack.ts';
import { decode, streamInfoOf } from './flac.ts';

/**
 * The sound in a rehearsal's folder: a WAV file, which grows while it is rehearsed, or once that is over a FLAC file, which takes
 * half the space. Where there are both, the WAV file counts.
 */
export const SOUND_FILE = 'sound.wav';
export const PACKED_FILE = 'sound.flac';
/** What the names of files end with that are not whole yet. */
export const PART = '.part';

/** Samples that are kept: 16 bits, little-endian, one channel. */
export interface KeptSound {
  readonly dataBytes: number;
  /** The bytes from one on and before another. */
  read(from: number, to: number): AsyncIterable<Uint8Array>;
}

/** How many samples a rehearsal's folder holds; 0 where there is no sound. */
export async function samplesOf(folder: string): Promise<number> {
  const wav = await statOf(path.join(folder, SOUND_FILE));
  if (wav) return samplesIn(wav.size);
  return (await streamInfoOf(path.join(folder, PACKED_FILE)))?.samples ?? 0;
}

/** The sound of one rehearsal after the other, of which the last that was unpacked stays in memory: people play many bits of one. */
export class KeptSounds {
  private last: { readonly key: string; readonly samples: Promise<Buffer> } | null = null;

  /** The sound in a rehearsal's folder. @throws {DamagedSound} */
  async of(folder: string): Promise<KeptSound> {
    const wav = await statOf(path.join(folder, SOUND_FILE));
    if (!wav) {
      const samples = await this.unpacked(folder);
      return { dataBytes: samples.length, read: (from, to) => only(samples.subarray(from, to)) };
    }
    return {
      dataBytes: 2 * samplesIn(wav.size),
      read: (from, to) => this.readWav(folder, from, to),
    };
  }

  /** Leaves nothing of any sound in memory. */
  forget(): void {
    this.last = null;
  }

  private async *readWav(folder: string, from: number, to: number): AsyncGenerator<Uint8Array> {
    const handle = await open(path.join(folder, SOUND_FILE)).catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return null;
      throw error;
    });
    // It was packed since it was looked for.
    if (!handle) return yield (await this.unpacked(folder)).subarray(from, to);
    const bytes = handle.createReadStream({ start: HEADER_BYTES + from, end: HEADER_BYTES + to - 1 });
    yield* bytes as AsyncIterable<Buffer>;
  }

  private async unpacked(folder: string): Promise<Buffer> {
    const file = path.join(folder, PACKED_FILE);
    const packed = await statOf(file);
    if (!packed) return Buffer.alloc(0);
    const key = JSON.stringify([file, packed]);
    if (this.last?.key !== key) {
      const samples = unpack(file);
      this.last = { key, samples };
      samples.catch(() => this.forget());
    }
    return this.last.samples;
  }
}

/** Makes a WAV file of a rehearsal's sound where it is packed, so that more can be added. */
export async function unpackInPlace(folder: string): Promise<void> {
  const file = path.join(folder, SOUND_FILE);
  if ((await statOf(file)) || !(await statOf(path.join(folder, PACKED_FILE)))) return;
  await copyAsWav(folder, file + PART);
  await rename(file + PART, file);
  await flushFolder(folder);
}

/** Writes the sound of a rehearsal's folder as a WAV file, which replaces what is there. @throws {DamagedSound} */
export async function copyAsWav(folder: string, to: string): Promise<void> {
  const wav = path.join(folder, SOUND_FILE);
  const packed = path.join(folder, PACKED_FILE);
  if (await statOf(wav)) return copyFile(wav, to);
  const handle = await open(to, 'w');
  try {
    const info = await streamInfoOf(packed);
    await handle.writeFile(wavHeader(2 * (info?.samples ?? 0)));
    if (info)
      for await (const piece of decode(packed)) {
        await handle.writeFile(piece);
      }
    await handle.sync();
  } finally {
    await handle.close();
  }
}

async function unpack(file: string): Promise<Buffer> {
  const pieces: Uint8Array[] = [];
  for await (const piece of decode(file)) {
    pieces.push(piece);
    // Others are answered meanwhile.
    await setImmediate();
  }
  return Buffer.concat(pieces);
}

async function* only(piece: Uint8Array): AsyncGenerator<Uint8Array> {
  yield piece;
}
