import { createHash } from 'node:crypto';
import { open, rename, rm, type FileHandle } from 'node:fs/promises';
import path from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { flushFolder, statOf } from '../../disk/wholeFile.ts';
import { HEADER_BYTES, samplesIn, SOUND_RATE } from '../soundTrack.ts';
import { DamagedSound, decode, DIGEST_AT, encode } from './flac.ts';
import { PACKED_FILE, PART, SOUND_FILE } from './keptSound.ts';

/** Bytes packed at once: half a second of sound, so that nobody who asks the host something waits for long. */
const PIECE = SOUND_RATE;
/** Rest after each piece, ms: packing leaves the processor to who is rehearsing. */
const REST = 5;

/** The WAV file that was packed, as it was then. */
export type Packed = NonNullable<Awaited<ReturnType<typeof statOf>>>;

/**
 * Packs the sound of a rehearsal's folder into a file beside it, and compares sample by sample what comes out of that with what
 * went in. The WAV file stays as it is. Null: there is none, or nothing in it.
 *
 * @throws {DamagedSound} what comes out is not what went in
 */
export async function packBeside(folder: string, signal: AbortSignal): Promise<Packed | null> {
  const file = path.join(folder, SOUND_FILE);
  const part = path.join(folder, PACKED_FILE + PART);
  const wav = await statOf(file);
  if (!wav || samplesIn(wav.size) === 0) return null;
  const sound = await open(file);
  try {
    await write(part, sound, samplesIn(wav.size), signal);
    await compare(part, sound, samplesIn(wav.size), signal);
    return wav;
  } catch (error) {
    await rm(part, { force: true }).catch(() => undefined);
    throw error;
  } finally {
    await sound.close();
  }
}

/** Puts what was packed in the place of the WAV file, unless that has changed since: tells whether it did. */
export async function putInPlace(folder: string, packed: Packed): Promise<boolean> {
  const file = path.join(folder, SOUND_FILE);
  const part = path.join(folder, PACKED_FILE + PART);
  const now = await statOf(file);
  if (now?.size !== packed.size || now.changedAt !== packed.changedAt) {
    await rm(part, { force: true });
    return false;
  }
  await rename(part, path.join(folder, PACKED_FILE));
  // On disk before the other one is gone from it.
  await flushFolder(folder);
  await rm(file);
  return true;
}

async function write(part: string, sound: FileHandle, samples: number, signal: AbortSignal): Promise<void> {
  const digest = createHash('md5');
  const pieces = async function* () {
    const end = HEADER_BYTES + 2 * samples;
    for (let at = HEADER_BYTES; at < end; at += PIECE) {
      const piece = await readAt(sound, at, Math.min(PIECE, end - at));
      digest.update(piece);
      yield piece;
      await setTimeout(REST, undefined, { signal });
    }
  };
  const handle = await open(part, 'w');
  try {
    for await (const piece of encode(pieces(), samples)) await handle.writeFile(piece);
    await handle.write(digest.digest(), 0, 16, DIGEST_AT);
    await handle.sync();
  } finally {
    await handle.close();
  }
}

async function compare(part: string, sound: FileHandle, samples: number, signal: AbortSignal): Promise<void> {
  let at = HEADER_BYTES;
  for await (const piece of decode(part)) {
    if (!(await readAt(sound, at, piece.length)).equals(piece))
      throw new DamagedSound(part, 'other samples came out than went in');
    at += piece.length;
    await setTimeout(REST, undefined, { signal });
  }
  if (at !== HEADER_BYTES + 2 * samples) throw new DamagedSound(part, 'it is shorter than what went in');
}

/** So many bytes of a file, or fewer where it ends. */
async function readAt(handle: FileHandle, at: number, length: number): Promise<Buffer> {
  const { buffer, bytesRead } = await handle.read(Buffer.alloc(length), 0, length, at);
  return buffer.subarray(0, bytesRead);
}
