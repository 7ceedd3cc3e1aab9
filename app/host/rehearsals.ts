import { Hono, type Context } from 'hono';
import type { Rehearsals } from '../records/rehearsals.ts';
import {
  CopyFirstSchema,
  MOST_SOUND_BYTES,
  NewEventsSchema,
  NewRehearsalSchema,
  NewReviewSchema,
  WRITER_HEADER,
} from './api.ts';
import { Refused } from './refused.ts';
import { readBody, readJson, whereOf, type Env } from './request.ts';
import { wavResponse } from './sound.ts';

/** The rehearsals that are kept, and what is added to them. */
export const rehearsalRoutes = (rehearsals: Rehearsals): Hono<Env> =>
  new Hono<Env>()
    .get('/api/rehearsals', async (c) => c.json(await rehearsals.list()))
    .post('/api/rehearsals', async (c) =>
      c.json(await rehearsals.create(await readJson(c, NewRehearsalSchema)), 201),
    )
    .get('/api/rehearsals/:id', async (c) => c.json(await rehearsals.read(c.req.param('id'))))
    .delete('/api/rehearsals/:id', async (c) => {
      await rehearsals.delete(c.req.param('id'), writerOf(c));
      return c.body(null, 204);
    })
    .post('/api/rehearsals/:id/writer', async (c) =>
      c.json({ writer: await rehearsals.takeOver(c.req.param('id')) }),
    )
    .post('/api/rehearsals/:id/copy', async (c) => {
      const { events, samples } = await readJson(c, CopyFirstSchema);
      return c.json(await rehearsals.copy(c.req.param('id'), events, samples), 201);
    })
    .post('/api/rehearsals/:id/events', async (c) => {
      const { from, events } = await readJson(c, NewEventsSchema);
      return c.json({ kept: await rehearsals.addEvents(c.req.param('id'), from, events, writerOf(c)) });
    })
    .post('/api/rehearsals/:id/review', async (c) => {
      const { events } = await readJson(c, NewReviewSchema);
      return c.json({ kept: await rehearsals.addReview(c.req.param('id'), events) });
    })
    .post('/api/rehearsals/:id/sound', async (c) => {
      const from = placeOf(c);
      const sound = await readBody(c, MOST_SOUND_BYTES);
      if (sound.length % 2 === 1) {
        const error = 'The sound ends inside a sample.';
        throw new Refused(400, { error, where: whereOf(c), advice: 'Send 16-bit samples, two bytes each.' });
      }
      return c.json({ samples: await rehearsals.addSound(c.req.param('id'), from, sound, writerOf(c)) });
    })
    .get('/api/rehearsals/:id/sound', async (c) => wavResponse(c, await rehearsals.sound(c.req.param('id'))));

const writerOf = (c: Context<Env>): string => c.req.header(WRITER_HEADER) ?? '';

function placeOf(c: Context<Env>): number {
  const text = c.req.query('from') ?? '';
  const from = Number(text);
  if (/^\d+$/.test(text) && Number.isSafeInteger(from)) return from;
  throw new Refused(400, {
    error: `"${text}" is no place in the sound.`,
    where: `${whereOf(c)}, parameter from`,
    advice: 'Give the number of samples before this piece: ?from=0 for the first.',
  });
}
