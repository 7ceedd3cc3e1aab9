import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import type { IncomingMessage, ServerResponse } from 'node:http';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { Refused } from './refused.ts';

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.mjs': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.wasm': 'application/wasm',
  '.wav': 'audio/wav',
};

export function sendJson(response: ServerResponse, status: number, value: unknown): void {
  response
    .writeHead(status, { 'content-type': 'application/json; charset=utf-8', 'cache-control': 'no-store' })
    .end(JSON.stringify(value));
}

/**
 * The file under `root` that a path of a URL means, index.html for "/". Throws {@link Refused} when it lies outside or
 * is no file.
 */
export async function fileUnder(root: string, urlPath: string): Promise<{ file: string; bytes: number }> {
  const missing = new Refused(404, {
    error: 'There is nothing of that name here.',
    where: urlPath,
    advice: 'Open / for the rehearsal room.',
  });
  let name: string;
  try {
    name = decodeURIComponent(urlPath);
  } catch {
    throw missing;
  }
  const base = path.resolve(root);
  const file = path.resolve(base, `.${name.endsWith('/') ? `${name}index.html` : name}`);
  if (!file.startsWith(base + path.sep) || name.includes('\0')) throw missing;
  const found = await stat(file).catch(() => null);
  if (!found?.isFile()) throw missing;
  return { file, bytes: found.size };
}

/** Sends a file whole. Files that the build named by their content may be kept by the browser for ever. */
export async function sendFile(
  response: ServerResponse,
  { file, bytes }: { file: string; bytes: number },
): Promise<void> {
  const named = path.basename(path.dirname(file)) === 'assets';
  response.writeHead(200, {
    'content-type': TYPES[path.extname(file)] ?? 'application/octet-stream',
    'content-length': bytes,
    'cache-control': named ? 'public, max-age=31536000, immutable' : 'no-cache',
  });
  await pipeline(createReadStream(file), response);
}

/** Sends `head` and, behind it, `bytes` of the file from `skip` on as one WAV, or the range of it that is asked for. */
export async function sendSound(
  request: IncomingMessage,
  response: ServerResponse,
  { head, file, skip, bytes }: { head: Buffer; file: string; skip: number; bytes: number },
): Promise<void> {
  const size = head.length + bytes;
  const range = rangeOf(request.headers.range, size);
  if (range === 'unsatisfiable') {
    response.setHeader('content-range', `bytes */${size}`);
    throw new Refused(416, {
      error: `The sound has ${size} bytes; what is asked for lies beyond.`,
      where: `${request.method} ${request.url}`,
      advice: 'Ask for a range within it.',
    });
  }
  const { from, to } = range ?? { from: 0, to: size - 1 };
  response.writeHead(range ? 206 : 200, {
    'content-type': 'audio/wav',
    'content-length': to - from + 1,
    'accept-ranges': 'bytes',
    'cache-control': 'no-store',
    ...(range && { 'content-range': `bytes ${from}-${to}/${size}` }),
  });
  await pipeline(async function* () {
    if (from < head.length) yield head.subarray(from, to + 1);
    if (to < head.length) return;
    const start = skip + Math.max(0, from - head.length);
    yield* createReadStream(file, { start, end: skip + to - head.length });
  }, response);
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
