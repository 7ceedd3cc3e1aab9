import { createReadStream } from 'node:fs';
import { Readable } from 'node:stream';
import type { ReadableStream } from 'node:stream/web';
import type { Context } from 'hono';
import { HEADER_BYTES, wavHeader } from '../records/soundTrack.ts';
import { Refused } from './refused.ts';
import { whereOf, type Env } from './request.ts';

/**
 * Answers with the samples of a file as one WAV, or the range of it that is asked for. The file's own header may be older than
 * its samples, so a new one goes before them.
 */
export function wavResponse(
  c: Context<Env>,
  { file, dataBytes }: { file: string; dataBytes: number },
): Response {
  const head = wavHeader(dataBytes);
  const size = head.length + dataBytes;
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
  return c.body(streamOf(head, file, from, to), range ? 206 : 200);
}

/** The bytes of a file from one to another, both included, with its first ones replaced by a header of that length. */
function streamOf(head: Buffer, file: string, from: number, to: number): globalThis.ReadableStream {
  const bytes = async function* () {
    if (from < head.length) yield head.subarray(from, to + 1);
    if (to >= HEADER_BYTES)
      yield* createReadStream(file, {
        start: Math.max(HEADER_BYTES, from),
        end: to,
      }) as AsyncIterable<Buffer>;
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
