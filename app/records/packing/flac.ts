/** Sound packed without loss, as FLAC (RFC 9639), by libFLAC's build for the web. Nothing else in the house knows it. */
import { open } from 'node:fs/promises';
import { readSync } from 'node:fs';
import type { Flac } from 'libflacjs';
import { SOUND_RATE } from '../soundTrack.ts';

/** What the head of a FLAC file says of its sound. */
export interface StreamInfo {
  readonly rate: number;
  readonly channels: number;
  readonly bits: number;
  /** Samples of each channel. */
  readonly samples: number;
}

/** A FLAC file is damaged, or not of the kind that is kept. */
export class DamagedSound extends Error {
  override readonly name = 'DamagedSound';
  constructor(file: string, why: string) {
    super(`${file} is damaged: ${why}.`);
  }
}

/** Where the digest (MD5) of all samples stands in a FLAC file. The encoder, which only writes forwards, leaves zeros there. */
export const DIGEST_AT = 26;
const HEAD_BYTES = 42;
/** libFLAC's usual level: the greatest takes half as long again and saves 0.3 % more. */
const LEVEL = 5;
const STREAM_ENDED = 4;

/** Reads the head of a FLAC file: its mark and STREAMINFO (RFC 9639, sections 6, 8.1 and 8.2). Null where it is none. */
export function streamInfo(head: Uint8Array): StreamInfo | null {
  const view = Buffer.from(head.buffer, head.byteOffset, head.byteLength);
  if (
    view.length < HEAD_BYTES ||
    view.toString('latin1', 0, 4) !== 'fLaC' ||
    (view.readUInt8(4) & 0x7f) !== 0
  )
    return null;
  // 20 bits of rate, 3 of channels less one, 5 of bits a sample less one, 36 of samples.
  const packed = view.readBigUInt64BE(18);
  return {
    rate: Number(packed >> 44n),
    channels: Number((packed >> 41n) & 7n) + 1,
    bits: Number((packed >> 36n) & 31n) + 1,
    samples: Number(packed & 0xfffffffffn),
  };
}

/** What a file's head says; null where there is no file, or it is no FLAC. */
export async function streamInfoOf(file: string): Promise<StreamInfo | null> {
  const handle = await open(file).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return null;
    throw error;
  });
  if (!handle) return null;
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(HEAD_BYTES), 0, HEAD_BYTES, 0);
    return streamInfo(buffer.subarray(0, bytesRead));
  } finally {
    await handle.close();
  }
}

/**
 * Packs samples at {@link SOUND_RATE}, one channel, 16 bits little-endian. The loop is held up for as long as one piece takes, so
 * pieces should be short: half a second of sound takes some milliseconds.
 *
 * @param pieces whole samples
 * @param samples how many there are in all, at least 1
 */
export async function* encode(
  pieces: AsyncIterable<Uint8Array>,
  samples: number,
): AsyncGenerator<Uint8Array> {
  const flac = await library();
  let made: Uint8Array[] = [];
  const encoder = flac.create_libflac_encoder(SOUND_RATE, 1, 16, LEVEL, samples, false);
  try {
    const status = flac.init_encoder_stream(encoder, (data) => void made.push(data));
    if (status !== 0) throw new Error(`libFLAC could not begin (${status}).`);
    for await (const piece of pieces) {
      const view = new DataView(piece.buffer, piece.byteOffset, piece.byteLength);
      const wide = Int32Array.from({ length: piece.length / 2 }, (_, i) => view.getInt16(2 * i, true));
      if (!flac.FLAC__stream_encoder_process_interleaved(encoder, wide, wide.length))
        throw new Error(`libFLAC failed (${flac.FLAC__stream_encoder_get_state(encoder)}).`);
      yield* made;
      made = [];
    }
    if (!flac.FLAC__stream_encoder_finish(encoder)) throw new Error('libFLAC could not end.');
    yield* made;
  } finally {
    flac.FLAC__stream_encoder_delete(encoder);
  }
}

/**
 * The samples of a FLAC file in pieces of a quarter of a second, as {@link encode} took them.
 *
 * @throws {DamagedSound} at the latest at its end, where the digest of all samples is compared
 */
export async function* decode(file: string): AsyncGenerator<Uint8Array> {
  const info = await streamInfoOf(file);
  if (info?.rate !== SOUND_RATE || info.channels !== 1 || info.bits !== 16)
    throw new DamagedSound(file, 'it does not begin as one that was kept');
  const flac = await library();
  const handle = await open(file);
  const decoder = flac.create_libflac_decoder(true);
  let made: Uint8Array[] = [];
  let left = info.samples;
  let fault = '';
  const read = (most: number) => {
    const bytes = Buffer.alloc(most);
    const readDataLength = readSync(handle.fd, bytes);
    return { buffer: bytes.subarray(0, readDataLength), readDataLength };
  };
  try {
    const status = flac.init_decoder_stream(
      decoder,
      read,
      // One channel: seen to above.
      ([samples]) => void (left -= made[made.push(samples!) - 1]!.length / 2),
      (code) => void (fault ||= `libFLAC's error ${code}`),
    );
    if (status !== 0) throw new Error(`libFLAC could not begin (${status}).`);
    while (flac.FLAC__stream_decoder_get_state(decoder) < STREAM_ENDED) {
      const works = flac.FLAC__stream_decoder_process_single(decoder);
      if (!works || fault || left < 0) throw new DamagedSound(file, fault || 'it cannot be unpacked');
      yield* made;
      made = [];
    }
    if (!flac.FLAC__stream_decoder_finish(decoder) || left !== 0)
      throw new DamagedSound(file, 'its samples are not those that were packed');
  } finally {
    flac.FLAC__stream_decoder_delete(decoder);
    await handle.close();
  }
}

let loading: Promise<Flac> | null = null;

/** The library, loaded when it is first needed: its build is a megabyte. */
function library(): Promise<Flac> {
  // The build that is JavaScript throughout: it is one file, and the WebAssembly one asks Node to fetch a path.
  loading ??= import('libflacjs/dist/libflac.js').then(async (module) => {
    const flac = ((module as { default?: unknown }).default ?? module) as Flac;
    if (!flac.isReady()) await new Promise<void>((done) => flac.on('ready', () => done()));
    return flac;
  });
  return loading;
}
