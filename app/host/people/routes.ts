import { Hono, type Context } from 'hono';
import type { BenchReadings } from '../../people/benchReadings.ts';
import { InstructorOnly, type InstructorsArea } from '../../people/instructorsArea.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import type { Sender } from '../../sending/sender.ts';
import {
  DecisionSchema,
  KeepingSchema,
  NewPassphraseSchema,
  NewTraineeSchema,
  PassphraseTriedSchema,
  type People,
} from '../api.ts';
import { readJson, type Env } from '../request.ts';
import { checkInstructor, maySee, tokenOf, viewerOf, type Viewer } from './viewer.ts';

/** The trainees on this machine, how long rehearsals are kept, and the instructor's area. */
export function peopleRoutes(
  people: PeopleFile,
  area: InstructorsArea,
  rehearsals: Rehearsals,
  bench: BenchReadings,
  sender: Sender,
): Hono<Env> {
  const instructorOnly = async (c: Context<Env>): Promise<void> => checkInstructor(await viewerOf(c, area));
  return new Hono<Env>()
    .get('/api/people', async (c) => c.json(await peopleFor(await viewerOf(c, area), people, area, sender)))
    .post('/api/people', async (c) => c.json(await people.add(await readJson(c, NewTraineeSchema)), 201))
    .put('/api/people/keeping', async (c) => {
      await instructorOnly(c);
      await people.keepFor((await readJson(c, KeepingSchema)).keptDays);
      return c.body(null, 204);
    })
    .post('/api/people/told', async (c) => {
      await instructorOnly(c);
      await people.told();
      return c.body(null, 204);
    })
    .put('/api/people/:id', async (c) => {
      await instructorOnly(c);
      await people.rename(c.req.param('id'), await readJson(c, NewTraineeSchema));
      return c.body(null, 204);
    })
    .put('/api/people/:id/consent', async (c) => {
      const id = c.req.param('id');
      if (!maySee(await viewerOf(c, area), id)) throw new InstructorOnly();
      const { agreed, sends } = await readJson(c, DecisionSchema);
      await people.decide(id, agreed, Date.now(), sends);
      return c.body(null, 204);
    })
    .delete('/api/people/:id', async (c) => {
      await instructorOnly(c);
      await deletePerson(c.req.param('id'), people, rehearsals, bench);
      return c.body(null, 204);
    })
    .post('/api/instructor/enter', async (c) =>
      c.json({ token: await area.enter((await readJson(c, PassphraseTriedSchema)).passphrase) }),
    )
    .post('/api/instructor/leave', (c) => {
      area.leave(tokenOf(c));
      return c.body(null, 204);
    })
    .put('/api/instructor/passphrase', async (c) => {
      await instructorOnly(c);
      return c.json({ token: await area.set((await readJson(c, NewPassphraseSchema)).passphrase) });
    })
    .delete('/api/instructor/passphrase', async (c) => {
      await instructorOnly(c);
      await area.open();
      return c.body(null, 204);
    });
}

async function peopleFor(
  viewer: Viewer,
  people: PeopleFile,
  area: InstructorsArea,
  sender: Sender,
): Promise<People> {
  const { trainees, keptDays, deleted } = await people.read();
  return {
    trainees,
    chosen: trainees.find(({ id }) => id === viewer.trainee)?.id ?? null,
    isInstructor: viewer.isInstructor,
    hasPassphrase: await area.isSet(),
    keptDays,
    deleted: viewer.isInstructor ? deleted : null,
    // A damaged file is told under Settings; it keeps nobody from rehearsing.
    school: await sender.school().catch(() => null),
  };
}

/** Deletes a person's rehearsals and readings, then the person: broken off in between, it can be done again. */
async function deletePerson(
  id: string,
  people: PeopleFile,
  rehearsals: Rehearsals,
  bench: BenchReadings,
): Promise<void> {
  const deleteAll = async (): Promise<void> => {
    await rehearsals.deleteAllOf(id);
    await bench.delete(id);
  };
  await people.trainee(id);
  await deleteAll();
  await people.remove(id);
  // What was begun meanwhile.
  await deleteAll();
}
