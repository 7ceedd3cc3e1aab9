import { Hono, type Context } from 'hono';
import { ReviewEventSchema, type RehearsalEvent, type ReviewEvent } from '../../marking/events.ts';
import { decisionOf } from '../../people/consent.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { isRehearsers, reviewOf, withoutReviewers } from '../../review/review.ts';
import {
  CopyFirstSchema,
  MOST_SOUND_BYTES,
  NewEventsSchema,
  NewRehearsalSchema,
  NewReviewSchema,
  WRITER_HEADER,
  type NewRehearsal,
} from '../api.ts';
import { checkInstructor, checkSeen, maySee, viewerOf } from '../people/viewer.ts';
import { Refused } from '../refused.ts';
import { readBody, readJson, whereOf, type Env } from '../request.ts';
import { wavResponse } from '../sound.ts';

/**
 * The rehearsals that are kept, and what is added to them. Each is shown to who may see it only; what a writer adds needs the
 * writer's token alone, which keeps no instructor's session alive.
 */
export function rehearsalRoutes(
  rehearsals: Rehearsals,
  people: PeopleFile,
  area: InstructorsArea,
): Hono<Env> {
  /** The id of the rehearsal that is asked for. Throws {@link UnknownRehearsal} where it may not be seen. */
  const seen = async (c: Context<Env, '/:id'>): Promise<string> => {
    const id = c.req.param('id');
    await checkSeen(await viewerOf(c, area), rehearsals, id);
    return id;
  };
  return new Hono<Env>()
    .get('/api/rehearsals', async (c) => {
      const viewer = await viewerOf(c, area);
      return c.json((await rehearsals.list()).filter(({ trainee = null }) => maySee(viewer, trainee)));
    })
    .post('/api/rehearsals', async (c) => {
      const begun = await readJson(c, NewRehearsalSchema);
      return c.json(await rehearsals.create({ ...begun, ...(await withoutSound(begun, people)) }), 201);
    })
    .get('/api/rehearsals/:id', async (c) => {
      const { events, ...kept } = await rehearsals.read(await seen(c));
      const { isInstructor } = await viewerOf(c, area);
      return c.json({ ...kept, events: isInstructor ? events : withoutReviewers(events) });
    })
    .delete('/api/rehearsals/:id', async (c) => {
      await rehearsals.delete(await seen(c), writerOf(c));
      return c.body(null, 204);
    })
    .post('/api/rehearsals/:id/writer', async (c) =>
      c.json({ writer: await rehearsals.takeOver(await seen(c)) }),
    )
    .post('/api/rehearsals/:id/copy', async (c) => {
      const { events, samples } = await readJson(c, CopyFirstSchema);
      return c.json(await rehearsals.copy(await seen(c), events, samples), 201);
    })
    .post('/api/rehearsals/:id/events', async (c) => {
      const { from, events } = await readJson(c, NewEventsSchema);
      if (events.some(isReview)) checkInstructor(await viewerOf(c, area));
      return c.json({ kept: await rehearsals.addEvents(c.req.param('id'), from, events, writerOf(c)) });
    })
    .post('/api/rehearsals/:id/review', async (c) => {
      const id = await seen(c);
      const { events } = await readJson(c, NewReviewSchema);
      if (events.every(isRehearsers)) checkNotSigned((await rehearsals.read(id)).events, events, whereOf(c));
      else checkInstructor(await viewerOf(c, area));
      return c.json({ kept: await rehearsals.addReview(id, events) });
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
    .get('/api/rehearsals/:id/sound', async (c) => wavResponse(c, await rehearsals.sound(await seen(c))));
}

/** What a header says where the trainee did not agree that sound is kept. Throws {@link UnknownTrainee}. */
async function withoutSound(
  { trainee = null }: NewRehearsal,
  people: PeopleFile,
): Promise<{ withoutSound?: true }> {
  if (trainee === null) return {};
  return decisionOf(await people.trainee(trainee)) ? {} : { withoutSound: true };
}

const isReview = (event: unknown): boolean => ReviewEventSchema.safeParse(event).success;

/** What was signed is left as it was signed: no measured value is added to it from outside the review. */
function checkNotSigned(
  events: readonly RehearsalEvent[],
  added: readonly ReviewEvent[],
  where: string,
): void {
  const isSigned = added.some(
    (event) => 'skill' in event && reviewOf(events, event.skill).signedOff !== null,
  );
  if (!isSigned) return;
  const error = 'Its review is signed off.';
  throw new Refused(409, { error, where, advice: 'Ask the reviewer to add what you measured.' });
}

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
