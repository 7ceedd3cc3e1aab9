import { open, type FileHandle } from 'node:fs/promises';
import { BadSound } from './badSound.ts';

/**
 * What a WAV file holds, read from its header as the RIFF/WAVE multimedia specification (IBM and Microsoft, 1991)
 * and its extensible form lay it out.
 */
export interface Wav {
  /** Samples a second and channel. */
  readonly rate: number;
  readonly channels: number;
  /** Sample frames that are really in the file. */
  readonly frames: number;
  /** Sample frames the header promises; null when its writer did not know (a recorder writing to a pipe). */
  readonly promised: number | null;
  /** Byte at which the samples begin. */
  readonly begin: number;
  readonly coding: Coding;
}

/** How one sample is written: its bytes and how to read it as −1…1. */
interface Coding {
  readonly bytes: number;
  readonly read: (data: DataView, at: number) => number;
}

/** Format tags of the specification that this reader knows; others are left to ffmpeg. */
const PCM = 1;
const FLOAT = 3;
const A_LAW = 6;
const MU_LAW = 7;
const EXTENSIBLE = 0xfffe;

/**
 * From this length on a `data` chunk larger than its file is a placeholder, not a promise: writers that cannot seek
 * back leave 0x7ffff000 (sox), 0x80000000 (arecord) or 0xffffffff (ffmpeg, RF64).
 */
const PLACEHOLDER = 0x7fff_f000;

/** Channels beyond this are a broken header, not a recording. */
const MOST_CHANNELS = 64;

/**
 * Reads the header of a WAV file. Null when the file is no WAV or holds a coding that this reader leaves to ffmpeg.
 *
 * @throws {BadSound} the header is damaged
 */
export async function readWavHeader(file: string): Promise<Wav | null> {
  const handle = await open(file);
  try {
    const { size } = await handle.stat();
    const riff = await bytesAt(handle, 0, 12);
    if (riff.byteLength < 12 || !['RIFF', 'RF64'].includes(text(riff, 0)) || text(riff, 8) !== 'WAVE')
      return null;
    let format: { rate: number; channels: number; coding: Coding } | null = null;
    for (let at = 12; ;) {
      const chunk = await bytesAt(handle, at, 8);
      if (chunk.byteLength < 8) {
        throw new BadSound(
          `${file} has the header of a WAV file and no samples: the recording was broken off at once, or the file ` +
            `was damaged. Record it again.`,
        );
      }
      const length = chunk.getUint32(4, true);
      const body = at + 8;
      if (text(chunk, 0) === 'fmt ') {
        const read = readFormat(file, await bytesAt(handle, body, Math.min(length, 40)));
        if (read === null) return null;
        format = read;
      } else if (text(chunk, 0) === 'data') {
        if (format === null)
          throw new BadSound(`${file} is a damaged WAV file: no format stands before its samples.`);
        const frame = format.coding.bytes * format.channels;
        const there = size - body;
        const unsaid =
          (length >= PLACEHOLDER && length > there) ||
          (length === 0 && !(await endsWithChunk(handle, body, size)));
        const promised = unsaid ? null : Math.floor(length / frame);
        return {
          ...format,
          begin: body,
          promised,
          frames: Math.floor((unsaid ? there : Math.min(length, there)) / frame),
        };
      }
      // Chunks are padded to an even length; the pad byte is not counted.
      at = body + length + (length % 2);
    }
  } finally {
    await handle.close();
  }
}

/**
 * The samples of a WAV file at its own rate, its channels averaged into one, in pieces of half a second. Ends early
 * if the file has become shorter since its header was read.
 */
export async function* readWavSamples(file: string, wav: Wav): AsyncGenerator<Float32Array> {
  const { bytes, read } = wav.coding;
  const frame = bytes * wav.channels;
  const perPiece = Math.ceil(wav.rate / 2);
  const handle = await open(file);
  try {
    for (let done = 0; done < wav.frames;) {
      const wanted = Math.min(perPiece, wav.frames - done);
      const data = await bytesAt(handle, wav.begin + done * frame, wanted * frame);
      const mono = new Float32Array(Math.floor(data.byteLength / frame));
      if (mono.length === 0) return;
      for (let n = 0; n < mono.length; n++) {
        let sum = 0;
        for (let c = 0; c < wav.channels; c++) sum += read(data, n * frame + c * bytes);
        mono[n] = sum / wav.channels;
      }
      yield mono;
      done += mono.length;
    }
  } finally {
    await handle.close();
  }
}

function readFormat(
  file: string,
  chunk: DataView,
): { rate: number; channels: number; coding: Coding } | null {
  if (chunk.byteLength < 16) throw new BadSound(`${file} is a damaged WAV file: its format breaks off.`);
  const tag = chunk.getUint16(0, true);
  const channels = chunk.getUint16(2, true);
  const rate = chunk.getUint32(4, true);
  const frame = chunk.getUint16(12, true);
  const bits = chunk.getUint16(14, true);
  // The extensible form keeps the true tag in the first two bytes of its sub-format identifier.
  const coding = codingOf(
    tag === EXTENSIBLE && chunk.byteLength >= 26 ? chunk.getUint16(24, true) : tag,
    bits,
  );
  if (coding === null) return null;
  if (channels < 1 || channels > MOST_CHANNELS || rate < 1 || frame !== channels * coding.bytes) {
    throw new BadSound(
      `${file} is a damaged WAV file: its header says ${channels} channels of ${bits} bits, ${frame} bytes together, ` +
        `${rate} times a second.`,
    );
  }
  return { rate, channels, coding };
}

function codingOf(tag: number, bits: number): Coding | null {
  const bytes = Math.ceil(bits / 8);
  // Samples narrower than their bytes are left-justified, so the bytes alone give the scale. 8 bits are unsigned.
  if (tag === PCM && bytes === 1) return { bytes, read: (data, at) => (data.getUint8(at) - 128) / 128 };
  if (tag === PCM && bytes === 2) return { bytes, read: (data, at) => data.getInt16(at, true) / 2 ** 15 };
  if (tag === PCM && bytes === 3) {
    return { bytes, read: (data, at) => (data.getInt16(at + 1, true) * 256 + data.getUint8(at)) / 2 ** 23 };
  }
  if (tag === PCM && bytes === 4) return { bytes, read: (data, at) => data.getInt32(at, true) / 2 ** 31 };
  if (tag === FLOAT && bits === 32) return { bytes, read: (data, at) => data.getFloat32(at, true) };
  if (tag === FLOAT && bits === 64) return { bytes, read: (data, at) => data.getFloat64(at, true) };
  if (tag === A_LAW && bits === 8) return { bytes, read: (data, at) => aLaw(data.getUint8(at)) };
  if (tag === MU_LAW && bits === 8) return { bytes, read: (data, at) => muLaw(data.getUint8(at)) };
  return null;
}

/** ITU-T G.711, A-law: even bits inverted, sign bit set for positive, 3 bits of segment, 4 of step; 13-bit range. */
export function aLaw(code: number): number {
  const bits = code ^ 0x55;
  const segment = (bits >> 4) & 7;
  const step = ((bits & 15) << 4) + 8;
  const size = segment === 0 ? step : (step + 0x100) << (segment - 1);
  return (bits & 0x80 ? size : -size) / 2 ** 15;
}

/** ITU-T G.711, µ-law: all bits inverted, 3 bits of segment, 4 of step, bias 33 of the 14-bit range (132 of 16). */
export function muLaw(code: number): number {
  const bits = ~code;
  const size = ((((bits & 15) << 3) + 132) << ((bits >> 4) & 7)) - 132;
  return (bits & 0x80 ? -size : size) / 2 ** 15;
}

/** Whether another chunk fills the file from `at` to its end: then an empty `data` chunk is truly empty. */
async function endsWithChunk(handle: FileHandle, at: number, size: number): Promise<boolean> {
  if (at >= size) return true;
  const chunk = await bytesAt(handle, at, 8);
  if (chunk.byteLength < 8) return false;
  const length = chunk.getUint32(4, true);
  return at + 8 + length + (length % 2) === size;
}

/** Up to `length` bytes; fewer where the file ends. */
async function bytesAt(handle: FileHandle, at: number, length: number): Promise<DataView> {
  const bytes = new Uint8Array(length);
  let got = 0;
  while (got < length) {
    const { bytesRead } = await handle.read(bytes, got, length - got, at + got);
    if (bytesRead === 0) break;
    got += bytesRead;
  }
  return new DataView(bytes.buffer, 0, got);
}

function text(data: DataView, at: number): string {
  return String.fromCharCode(
    data.getUint8(at),
    data.getUint8(at + 1),
    data.getUint8(at + 2),
    data.getUint8(at + 3),
  );
}
