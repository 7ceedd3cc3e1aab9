import { Hono } from 'hono';
import type { Library } from '../../library/library.ts';
import type { BenchReadings } from '../../people/benchReadings.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import { readingsIn } from '../../progress/readings.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { hasReading } from '../../skills/form.ts';
import { NewReadingsSchema, type ReadingsReply } from '../api.ts';
import { maySee, viewerOf, type Viewer } from '../people/viewer.ts';
import { readJson, type Env } from '../request.ts';
import { Refused } from '../refused.ts';
import { readAttempts } from './judged.ts';

/** Readings with their truth, over time: what was read at the bench is kept with the person chosen; rehearsals have theirs. */
export const readingRoutes = (
  bench: BenchReadings,
  rehearsals: Rehearsals,
  people: PeopleFile,
  library: Library,
  area: InstructorsArea,
): Hono<Env> =>
  new Hono<Env>()
    .get('/api/readings', async (c) => {
      const viewer = await viewerOf(c, area);
      const reply = await allReadings(viewer, bench, rehearsals, people, library);
      return c.json(reply satisfies ReadingsReply);
    })
    .post('/api/readings', async (c) => {
      const { trainee } = await viewerOf(c, area);
      const { readings } = await readJson(c, NewReadingsSchema);
      if (trainee === null)
        throw new Refused(400, {
          error: 'These readings are nobody’s.',
          where: '/api/readings',
          advice: 'Choose who practises first: what nobody in particular reads is not kept.',
        });
      await people.trainee(trainee);
      await bench.add(trainee, readings);
      return c.body(null, 204);
    });

/** What may be seen, person by person. */
async function allReadings(
  viewer: Viewer,
  bench: BenchReadings,
  rehearsals: Rehearsals,
  people: PeopleFile,
  library: Library,
): Promise<ReadingsReply> {
  const skills = [...library.skills.values()].filter(hasReading);
  const attempts = await Promise.all(skills.map(({ id }) => readAttempts(rehearsals, library, id, viewer)));
  const { trainees } = await people.read();
  const seen = trainees.filter(({ id }) => maySee(viewer, id)).map(({ id }) => id);
  return Promise.all(
    [...seen, null].map(async (trainee) => {
      const own = attempts.flat().filter((attempt) => attempt.trainee === trainee);
      const kept = trainee === null ? [] : await bench.of(trainee);
      return { trainee, readings: [...kept, ...readingsIn(own)] };
    }),
  );
}
