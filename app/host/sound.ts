import { Readable } from 'node:stream';
import type { ReadableStream } from 'node:stream/web';
import type { Context } from 'hono';
import type { KeptSound } from '../records/packing/keptSound.ts';
import { wavHeader } from '../records/soundTrack.ts';
import { Refused } from './refused.ts';
import { whereOf, type Env } from './request.ts';

/** Answers with the sound of a rehearsal as one WAV file, however it is kept, or the range of it that is asked for. */
export function wavResponse(c: Context<Env>, sound: KeptSound): Response {
  const head = wavHeader(sound.dataBytes);
  const size = head.length + sound.dataBytes;
  const range = rangeOf(c.req.header('range'), size);
  if (range === 'unsatisfiable') {
    c.header('content-range', `bytes */${size}`);
    throw new Refused(416, {
      error: `The sound has ${size} bytes; what is asked for lies beyond.`,
      where: whereOf(c),
      advice: 'Ask for a range within it.',
    });
  }
  const { from, to } = range ?? { from: 0, to: size - 1 };
  if (range) c.header('content-range', `bytes ${from}-${to}/${size}`);
  c.header('content-type', 'audio/wav');
  c.header('content-length', String(to - from + 1));
  c.header('accept-ranges', 'bytes');
  return c.body(streamOf(head, sound, from, to), range ? 206 : 200);
}

/** The bytes of a WAV file, header and sound, from one to another, both included. */
function streamOf(head: Buffer, sound: KeptSound, from: number, to: number): globalThis.ReadableStream {
  const bytes = async function* () {
    if (from < head.length) yield head.subarray(from, to + 1);
    if (to >= head.length) yield* sound.read(Math.max(0, from - head.length), to + 1 - head.length);
  };
  // Node's type of the same thing.
  const stream: ReadableStream = Readable.toWeb(Readable.from(bytes(), { objectMode: false }));
  return stream as globalThis.ReadableStream;
}

/**
 * The byte range a Range header asks for (RFC 9110, section 14), both ends included; null for the whole, as for several
 * ranges at once or another unit, which a server may pass over.
 *
 * @param size bytes there are, at least 1
 */
export function rangeOf(
  header: string | undefined,
  size: number,
): { from: number; to: number } | 'unsatisfiable' | null {
  const [, first, last] = /^bytes=(\d*)-(\d*)$/.exec(header ?? '') ?? [];
  if (first === undefined || last === undefined || first + last === '') return null;
  if (first === '') {
    const length = Number(last);
    return length === 0 ? 'unsatisfiable' : { from: Math.max(0, size - length), to: size - 1 };
  }
  const from = Number(first);
  if (from >= size) return 'unsatisfiable';
  const to = last === '' ? size - 1 : Math.min(Number(last), size - 1);
  return to < from ? null : { from, to };
}
