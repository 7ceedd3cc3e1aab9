import { open } from 'node:fs/promises';
import { Gap, NotKept, OtherContent } from '../disk/notKept.ts';
import { writeWhole } from './journal.ts';
import { isFull, whyOf } from '../disk/wholeFile.ts';

/** Samples a second of the sound that is kept; one channel, 16 bits. */
export const SOUND_RATE = 16_000;
const SAMPLE_BYTES = 2;

/** Bytes of the header before the first sample. */
export const HEADER_BYTES = 44;

/**
 * The header of a WAV file of so many bytes of samples: the RIFF/WAVE multimedia specification (IBM and Microsoft,
 * 1991), format PCM.
 */
export function wavHeader(dataBytes: number): Buffer {
  const header = Buffer.alloc(HEADER_BYTES);
  header.write('RIFF', 0, 'latin1');
  header.writeUInt32LE(36 + dataBytes, 4);
  header.write('WAVEfmt ', 8, 'latin1');
  header.writeUInt32LE(16, 16);
  header.writeUInt16LE(1, 20);
  header.writeUInt16LE(1, 22);
  header.writeUInt32LE(SOUND_RATE, 24);
  header.writeUInt32LE(SOUND_RATE * SAMPLE_BYTES, 28);
  header.writeUInt16LE(SAMPLE_BYTES, 32);
  header.writeUInt16LE(8 * SAMPLE_BYTES, 34);
  header.write('data', 36, 'latin1');
  header.writeUInt32LE(dataBytes, 40);
  return header;
}

/** Whole samples in a file of so many bytes. What its header says may be older. */
export function samplesIn(fileBytes: number): number {
  return Math.max(0, Math.floor((fileBytes - HEADER_BYTES) / SAMPLE_BYTES));
}

/**
 * Adds 16-bit little-endian samples to a WAV file and brings them to the disk before resolving with the number of
 * samples there are. `from` is the place of the first; those the file has already are compared. The caller sees to it
 * that only one such call runs for a file at a time.
 *
 * @throws {Gap} `from` lies beyond the end
 * @throws {OtherContent} the file has other samples there
 * @throws {NotKept} not all could be written; whole samples are left
 */
export async function appendSound(file: string, from: number, sound: Uint8Array): Promise<number> {
  const handle = await open(file, 'r+');
  try {
    const have = samplesIn((await handle.stat()).size);
    if (from > have) throw new Gap(`Samples ${have} to ${from - 1} are missing.`, have);
    const again = sound.subarray(0, (have - from) * SAMPLE_BYTES);
    const there = Buffer.alloc(again.length);
    await handle.read(there, 0, there.length, HEADER_BYTES + from * SAMPLE_BYTES);
    if (!there.equals(again))
      throw new OtherContent(`From sample ${from} on other sound is kept already.`, have);
    const fresh = sound.subarray(again.length);
    const end = HEADER_BYTES + have * SAMPLE_BYTES;
    // In pieces, so that most of it is kept where a disk fills up meanwhile.
    const pieces = [];
    for (let at = 0; at < fresh.length; at += SOUND_RATE) pieces.push(fresh.subarray(at, at + SOUND_RATE));
    const written = await writeWhole(handle, end, pieces);
    const bytes = pieces.slice(0, written.pieces).reduce((sum, piece) => sum + piece.length, 0);
    const samples = have + bytes / SAMPLE_BYTES;
    await handle.write(wavHeader(samples * SAMPLE_BYTES), 0, HEADER_BYTES, 0);
    if (written.failed !== null) {
      const seconds = ((fresh.length - bytes) / SAMPLE_BYTES / SOUND_RATE).toFixed(1);
      throw new NotKept(
        `${whyOf(written.failed)}: ${seconds} s of sound were not kept.`,
        samples,
        isFull(written.failed),
      );
    }
    return samples;
  } finally {
    await handle.close();
  }
}
