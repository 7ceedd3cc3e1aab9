import { mkdir, mkdtemp, open, rm, stat } from 'node:fs/promises';
import { createReadStream } from 'node:fs';
import path from 'node:path';
import { Readable } from 'node:stream';
import type { ReadableStream } from 'node:stream/web';
import { Hono, type Context } from 'hono';
import { z } from 'zod';
import { MOST_BUNDLE } from '../../bundle/limits.ts';
import { BUNDLE_ENDING } from '../../bundle/manifest.ts';
import { ChangedMeanwhile } from '../../bundle/write.ts';
import type { Carrier, Made } from '../../carrying/carrier.ts';
import type { Wanted } from '../../carrying/gather.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import { RehearsalIdSchema } from '../../records/header.ts';
import { UNFINISHED } from '../../records/rehearsals.ts';
import { CARRIED_HEADER, LEFT_OUT_HEADER, type TakenIn } from '../api.ts';
import { checkInstructor, viewerOf } from '../people/viewer.ts';
import { Refused } from '../refused.ts';
import { whereOf, type Env } from '../request.ts';

/**
 * Rehearsals as files that travel. What is sent and what comes in lies among the rehearsals meanwhile, where the next start clears it
 * away.
 *
 * @param root the folder of all rehearsals
 */
export function bundleRoutes(carrier: Carrier, root: string, area: InstructorsArea): Hono<Env> {
  return new Hono<Env>()
    .get('/api/bundle', async (c) => {
      checkInstructor(await viewerOf(c, area));
      const wanted = wantedOf(c);
      const folder = await spareFolder(root);
      const file = path.join(folder, 'bundle.zip');
      try {
        const made = await carrier.make(file, wanted).catch((error: unknown) => {
          // Sound was packed meanwhile, or a review was made: the second time it is.
          if (error instanceof ChangedMeanwhile) return carrier.make(file, wanted);
          throw error;
        });
        return await sent(c, file, made);
      } catch (error) {
        await remove(folder);
        throw error;
      }
    })
    .post('/api/bundles', async (c) => {
      checkInstructor(await viewerOf(c, area));
      const folder = await spareFolder(root);
      try {
        const file = path.join(folder, 'bundle.zip');
        await receive(c, file);
        return c.json((await carrier.takeIn(file)) satisfies TakenIn);
      } finally {
        await remove(folder);
      }
    });
}

const WantedSchema = z.object({
  id: z.array(RehearsalIdSchema),
  class: z.string().nullable(),
  since: z.iso.datetime().or(z.literal('')),
});

/** Which rehearsals are asked for. Throws {@link Refused}. */
function wantedOf(c: Context<Env>): Wanted {
  const asked = WantedSchema.safeParse({
    id: c.req.queries('id') ?? [],
    class: c.req.query('class') ?? null,
    since: c.req.query('since') ?? '',
  });
  if (!asked.success) {
    const error = `The query cannot be read: ${asked.error.issues[0]?.message}.`;
    throw new Refused(400, {
      error,
      where: whereOf(c),
      advice: 'See app/host/apis/bundlesApi.ts for what is taken.',
    });
  }
  const { id: ids, class: name, since } = asked.data;
  return ids.length > 0 ? { ids } : { class: name, since: since === '' ? -Infinity : Date.parse(since) };
}

/** Answers with a bundle, whose folder goes away once it is sent, or the sending is broken off. */
async function sent(c: Context<Env>, file: string, { manifest, leftOut }: Made): Promise<Response> {
  if (manifest.attempts.length === 0) {
    const error =
      leftOut.length > 0 ? `${leftOut[0]?.id}: ${leftOut[0]?.why}.` : 'There is no such rehearsal.';
    throw new Refused(404, { error, where: whereOf(c), advice: 'Choose others.' });
  }
  const { size } = await stat(file);
  const bytes = createReadStream(file);
  bytes.once('close', () => void remove(path.dirname(file)));
  c.header('content-type', 'application/zip');
  c.header('content-length', String(size));
  const name = `rehearsals-${manifest.madeAt.slice(0, 10)}${BUNDLE_ENDING}`;
  c.header('content-disposition', `attachment; filename="${name}"`);
  c.header(CARRIED_HEADER, String(manifest.attempts.length));
  c.header(LEFT_OUT_HEADER, String(leftOut.length));
  // Node's type of the same thing.
  const stream: ReadableStream = Readable.toWeb(bytes);
  return c.body(stream as globalThis.ReadableStream);
}

/** Writes a request's body into a file piece by piece. Throws {@link Refused} when it is too large or breaks off. */
async function receive(c: Context<Env>, file: string): Promise<void> {
  const { incoming } = c.env;
  const refuse = (status: 400 | 413, error: string, advice: string): never => {
    throw new Refused(status, { error, where: whereOf(c), advice });
  };
  const checkSize = (size: number): void => {
    if (size > MOST_BUNDLE)
      refuse(413, `The file is larger than ${MOST_BUNDLE} bytes.`, 'Have it made with fewer rehearsals.');
  };
  const handle = await open(file, 'wx');
  try {
    checkSize(Number(c.req.header('content-length') ?? 0));
    let size = 0;
    // Left open where it fails, so that the answer reaches who is still sending.
    for await (const piece of incoming.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>) {
      size += piece.length;
      checkSize(size);
      await handle.writeFile(piece);
    }
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ECONNRESET')
      refuse(400, 'The file broke off.', 'Send it again.');
    incoming.resume();
    throw error;
  } finally {
    await handle.close();
  }
}

async function spareFolder(root: string): Promise<string> {
  await mkdir(root, { recursive: true });
  return mkdtemp(path.join(root, `${UNFINISHED}file-`));
}

const remove = (folder: string): Promise<void> =>
  rm(folder, { recursive: true, force: true }).catch(() => undefined);
