import type { IncomingMessage } from 'node:http';
import type { z } from 'zod';
import { fieldOf } from '../faults/faults.ts';
import { MOST_JSON_BYTES } from './api.ts';
import { Refused } from './refused.ts';

/** Reads a request's body whole. Throws {@link Refused} when it is larger than `most` bytes or breaks off. */
export function readBody(request: IncomingMessage, most: number): Promise<Buffer> {
  const where = `${request.method} ${request.url}`;
  return new Promise((done, failed) => {
    const pieces: Buffer[] = [];
    let bytes = Number(request.headers['content-length'] ?? 0);
    const tooLarge = (): void => {
      // What still comes is let run out, so that the answer reaches a sender that is still sending.
      request.removeAllListeners('data').resume();
      failed(
        new Refused(413, {
          error: `The body is larger than ${most} bytes.`,
          where,
          advice: 'Send it in smaller pieces.',
        }),
      );
    };
    if (bytes > most) return tooLarge();
    bytes = 0;
    request.on('data', (piece: Buffer) => {
      bytes += piece.length;
      if (bytes > most) return tooLarge();
      pieces.push(piece);
    });
    request.on('end', () => done(Buffer.concat(pieces)));
    request.on('error', () =>
      failed(new Refused(400, { error: 'The body broke off.', where, advice: 'Send it again.' })),
    );
  });
}

/** Reads a request's JSON body and checks it. Throws {@link Refused}, which names the first faulty field. */
export async function readJson<T>(
  request: IncomingMessage,
  schema: z.ZodType<T>,
  most = MOST_JSON_BYTES,
): Promise<T> {
  const where = `${request.method} ${request.url}`;
  if (!/^application\/json\b/.test(request.headers['content-type'] ?? '')) {
    throw new Refused(415, {
      error: 'The body is not said to be JSON.',
      where,
      advice: 'Send it with content-type: application/json.',
    });
  }
  const text = new TextDecoder().decode(await readBody(request, most));
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    const why = (error as Error).message;
    throw new Refused(400, { error: `The body is not JSON: ${why}.`, where, advice: 'Send valid JSON.' });
  }
  const checked = schema.safeParse(value);
  if (checked.success) return checked.data;
  const { path, message } = checked.error.issues[0]!;
  const field = fieldOf(path.filter((key) => typeof key !== 'symbol'));
  throw new Refused(400, {
    error: `${field || 'The body'}: ${message}.`,
    where: field ? `${where}, field ${field}` : where,
    advice: 'See app/host/api.ts for what is taken.',
  });
}
