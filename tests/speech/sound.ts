import { writeFile } from 'node:fs/promises';
import { openSound } from '../../app/sound/soundFile.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { HEADER_BYTES, wavHeader } from '../../app/records/soundTrack.ts';

/** Reads a whole sound file as mono samples, −1…1 at 16 kHz. Throws what `openSound` throws. */
export async function readSamples(file: string): Promise<Float32Array> {
  const pieces: Float32Array[] = [];
  for await (const piece of (await openSound(file)).chunks) pieces.push(piece.slice());
  return concatenate(pieces);
}

export function concatenate(pieces: readonly Float32Array[]): Float32Array {
  const all = new Float32Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    all.set(piece, at);
    at += piece.length;
  }
  return all;
}

/** Samples in pieces of half a second, as a recording delivers them. */
export async function* inPieces(samples: Float32Array): AsyncGenerator<Float32Array> {
  for (let at = 0; at < samples.length; at += SAMPLE_RATE / 2)
    yield samples.subarray(at, at + SAMPLE_RATE / 2);
}

/** Writes mono samples, −1…1 at 16 kHz, as 16-bit PCM WAV; what lies outside is clipped. */
export async function writeWav(file: string, samples: Float32Array): Promise<void> {
  await writeFile(file, wavBytes(samples));
}

/** The bytes of a 16-bit PCM WAV file at 16 kHz. */
export function wavBytes(samples: Float32Array): Uint8Array {
  const bytes = Buffer.alloc(HEADER_BYTES + samples.length * 2);
  bytes.set(wavHeader(samples.length * 2));
  samples.forEach((s, i) =>
    bytes.writeInt16LE(Math.round(Math.max(-1, Math.min(0.99997, s)) * 32768), HEADER_BYTES + i * 2),
  );
  return bytes;
}
