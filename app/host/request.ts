import type { HttpBindings } from '@hono/node-server';
import type { Context } from 'hono';
import { bodyLimit } from 'hono/body-limit';
import type { z } from 'zod';
import { fieldOf } from '../faults/faults.ts';
import { INSTRUCTOR_HEADER, MOST_JSON_BYTES } from './api.ts';
import { Refused } from './refused.ts';

/** What the routes know beside a request: Node's own request and response. */
export interface Env {
  Bindings: HttpBindings;
}

/** A request as messages name it: its method and path, without the token that may stand there. */
export const whereOf = (c: Context<Env>): string =>
  `${c.req.method} ${c.env.incoming.url?.replace(TOKEN, '$1…')}`;
const TOKEN = new RegExp(`(${INSTRUCTOR_HEADER}=)[^&]*`);

/** Reads a request's body whole. Throws {@link Refused} when it is larger than `most` bytes or breaks off. */
export async function readBody(c: Context<Env>, most: number): Promise<Uint8Array> {
  const where = whereOf(c);
  const tooLarge = (): never => {
    // What still comes is let run out, so that the answer reaches a sender that is still sending.
    c.env.incoming.removeAllListeners('data').resume();
    const error = `The body is larger than ${most} bytes.`;
    throw new Refused(413, { error, where, advice: 'Send it in smaller pieces.' });
  };
  await bodyLimit({ maxSize: most, onError: tooLarge })(c, () => Promise.resolve());
  const body = await c.req.arrayBuffer().catch(() => {
    throw new Refused(400, { error: 'The body broke off.', where, advice: 'Send it again.' });
  });
  return new Uint8Array(body);
}

/** Reads a request's JSON body and checks it. Throws {@link Refused}, which names the first faulty field. */
export async function readJson<T>(c: Context<Env>, schema: z.ZodType<T>, most = MOST_JSON_BYTES): Promise<T> {
  const where = whereOf(c);
  if (!/^application\/json\b/.test(c.req.header('content-type') ?? '')) {
    throw new Refused(415, {
      error: 'The body is not said to be JSON.',
      where,
      advice: 'Send it with content-type: application/json.',
    });
  }
  const checked = schema.safeParse(valueOf(new TextDecoder().decode(await readBody(c, most)), where));
  if (checked.success) return checked.data;
  // A check that failed has an issue.
  const { path, message } = checked.error.issues[0]!;
  const field = fieldOf(path.filter((key) => typeof key !== 'symbol'));
  throw new Refused(400, {
    error: `${field || 'The body'}: ${message}.`,
    where: field ? `${where}, field ${field}` : where,
    advice: 'See app/host/api.ts for what is taken.',
  });
}

/** Reads a request's query and checks it. Throws {@link Refused}, which names the first faulty parameter. */
export function readQuery<T>(c: Context<Env>, schema: z.ZodType<T>): T {
  const checked = schema.safeParse(c.req.query());
  if (checked.success) return checked.data;
  // A check that failed has an issue.
  const { path, message } = checked.error.issues[0]!;
  throw new Refused(400, {
    error: `${path.join('.')}: ${message}.`,
    where: whereOf(c),
    advice: 'See app/host/api.ts for what is taken.',
  });
}

function valueOf(text: string, where: string): unknown {
  try {
    return JSON.parse(text);
  } catch (error) {
    const why = (error as Error).message;
    throw new Refused(400, { error: `The body is not JSON: ${why}.`, where, advice: 'Send valid JSON.' });
  }
}
