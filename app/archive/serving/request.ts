import { createWriteStream } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { ReadableStream } from 'node:stream/web';
import type { HttpBindings } from '@hono/node-server';
import type { Context } from 'hono';
import { z } from 'zod';
import { fieldOf } from '../../faults/faults.ts';
import { Refused } from './refused.ts';

/** What the routes know beside a request: Node's own request and response. */
export interface Env {
  Bindings: HttpBindings;
}

/** Largest JSON body, in bytes: some thousand verdicts. */
const MOST_JSON = 1 << 20;

/** A request as messages name it: its method and path. */
export const whereOf = (c: Context<Env>): string => `${c.req.method} ${c.req.path}`;

/** Reads a JSON body and checks it. Throws {@link Refused}, which names the first faulty field. */
export async function readJson<T>(c: Context<Env>, schema: z.ZodType<T>): Promise<T> {
  if (!/^application\/json\b/.test(c.req.header('content-type') ?? ''))
    throw new Refused(
      415,
      'The body is not said to be JSON.',
      'Send it with content-type: application/json.',
    );
  const pieces: Buffer[] = [];
  for await (const piece of bodyOf(c, MOST_JSON)) pieces.push(piece);
  let value: unknown;
  try {
    value = JSON.parse(Buffer.concat(pieces).toString());
  } catch (error) {
    throw new Refused(400, `The body is not JSON: ${(error as Error).message}.`, 'Send valid JSON.');
  }
  return checked(schema, value);
}

/** Reads what stands in the query. Throws {@link Refused} likewise. */
export const readQuery = <T>(c: Context<Env>, schema: z.ZodType<T>): T => checked(schema, c.req.query());

const UuidSchema = z.uuid();
const NumberIdSchema = z.string().regex(/^[1-9]\d{0,18}$/, 'is no id');

/** The id in the address of a request. Throws {@link Refused}. */
export const readUuid = (c: Context<Env>): string => checked(UuidSchema, c.req.param('id'));
export const readNumberId = (c: Context<Env>): string => checked(NumberIdSchema, c.req.param('id'));

function checked<T>(schema: z.ZodType<T>, value: unknown): T {
  const read = schema.safeParse(value);
  if (read.success) return read.data;
  const [issue] = read.error.issues;
  const field = fieldOf((issue?.path ?? []).filter((key) => typeof key !== 'symbol'));
  throw new Refused(
    400,
    `${field || 'What was sent'}: ${issue?.message}.`,
    'Send it as app/archive/serving says.',
  );
}

/**
 * Does something with a request's body as a file, which is gone afterwards.
 *
 * @param most bytes that are taken
 */
export async function withUpload<T>(
  c: Context<Env>,
  most: number,
  work: (file: string) => Promise<T>,
): Promise<T> {
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-upload-'));
  try {
    const file = path.join(folder, 'body');
    await pipeline(bodyOf(c, most), createWriteStream(file));
    return await work(file);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** A request's body piece by piece. It fails with {@link Refused} where it is too large or breaks off. */
function bodyOf(c: Context<Env>, most: number): Transform {
  const tooLarge = (): Refused =>
    new Refused(413, `The body is larger than ${most} bytes.`, 'Send it in smaller pieces.');
  if (Number(c.req.header('content-length') ?? 0) > most) throw tooLarge();
  let bytes = 0;
  const counted = new Transform({
    transform(piece: Buffer, _encoding, done) {
      bytes += piece.length;
      if (bytes > most) done(tooLarge());
      else done(null, piece);
    },
  });
  // Node's type of the same thing.
  const body = c.req.raw.body as ReadableStream | null;
  const source = body ? Readable.fromWeb(body) : Readable.from([]);
  source.on('error', () => counted.destroy(new Refused(400, 'The body broke off.', 'Send it again.')));
  return source.pipe(counted);
}
