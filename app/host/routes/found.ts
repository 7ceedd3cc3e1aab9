import { Hono } from 'hono';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Entry } from '../../records/index/entry.ts';
import { countsIn, isWanted, latestOf, type Wanted } from '../../records/index/finding.ts';
import type { Reading } from '../../records/index/rehearsalIndex.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { FindingSchema, type Found, type Latest } from '../api.ts';
import { maySee, viewerOf, type Viewer } from '../people/viewer.ts';
import { readQuery, type Env } from '../request.ts';

/** Lists of rehearsals, each only of those that may be seen. */
export function foundRoutes(rehearsals: Rehearsals, people: PeopleFile, area: InstructorsArea): Hono<Env> {
  const seenBy = async (viewer: Viewer): Promise<{ entries: Entry[]; reading: Reading | null }> => {
    const { entries, reading } = await rehearsals.glance();
    return { entries: entries.filter(({ summary }) => maySee(viewer, summary.trainee ?? null)), reading };
  };
  return new Hono<Env>()
    .get('/api/rehearsals/latest', async (c) => {
      const viewer = await viewerOf(c, area);
      const { entries, reading } = await seenBy(viewer);
      const all = entries.map(({ summary }) => summary);
      const own = all.filter(
        ({ trainee = null }) => viewer.trainee === null || trainee === null || trainee === viewer.trainee,
      );
      const shown = new Set(latestOf(own).map(({ id }) => id));
      return c.json({
        rehearsals: await rehearsals.summaries(entries.filter(({ summary }) => shown.has(summary.id))),
        of: own.length,
        counts: countsIn(all),
        reading,
      } satisfies Latest);
    })
    .get('/api/rehearsals/found', async (c) => {
      const viewer = await viewerOf(c, area);
      const { most, ...finding } = readQuery(c, FindingSchema);
      const wanted = { ...finding, trainees: await traineesOf(finding, people) } satisfies Wanted;
      const { entries, reading } = await seenBy(viewer);
      const found = entries.filter(({ summary }) => isWanted(summary, wanted));
      return c.json({
        rehearsals: await rehearsals.summaries(found.slice(0, most)),
        found: found.length,
        of: entries.length,
        reading,
      } satisfies Found);
    });
}

/** Who is looked for: one trainee and nobody in particular, a class, or null for everybody. */
async function traineesOf(
  { trainee, class: name }: { readonly trainee: string; readonly class: string },
  people: PeopleFile,
): Promise<Set<string | null> | null> {
  if (trainee !== '') return new Set([trainee, null]);
  if (name === '') return null;
  const { trainees } = await people.read();
  return new Set(trainees.filter((each) => each.class === name).map(({ id }) => id));
}
