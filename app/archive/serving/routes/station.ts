import { openBundle } from '../../../bundle/read.ts';
import { note } from '../../store/audit.ts';
import { noteGone, toDelete } from '../../taking/deletions.ts';
import { takeIn, touch, type Taking } from '../../taking/takeIn.ts';
import { GoneSchema, type Contact, type Taken } from '../api.ts';
import { readJson, withUpload } from '../request.ts';
import { done, route, type Route } from '../route.ts';

/** Largest bundle that is taken, in bytes: two hours of sound are 230 MB as a WAV file. */
const MOST_BUNDLE = 512 * 2 ** 20;

/** What stations ask. Enrolling, which nobody has signed in for, is beside them. */
export const stationRoutes = (taking: Taking): Route[] => [
  // Asked every few minutes and tells of no person: the audit log has nothing of it.
  route('GET', '/api/station', ['station'], async ({ c, who, name }) =>
    c.json(
      await taking.archive.as(who, async (db): Promise<Contact> => {
        await touch(db, who);
        const school = await db.selectFrom('schools').select('name').executeTakeFirstOrThrow();
        return { station: name, school: school.name, deletions: await toDelete(db, who.station) };
      }),
    ),
  ),
  route('POST', '/api/station/bundles', ['station'], async ({ c, who }) =>
    withUpload(c, MOST_BUNDLE, async (file) => {
      const bundle = await openBundle(file);
      try {
        return c.json((await takeIn(taking, who, bundle)) satisfies Taken);
      } finally {
        await bundle.close();
      }
    }),
  ),
  route('POST', '/api/station/gone', ['station'], async ({ c, who }) => {
    const { records } = await readJson(c, GoneSchema);
    await noteGone(taking.archive, taking.parts, who, records);
    await taking.archive.as(who, (db) =>
      note(db, who, 'deleted at the station', records.map(({ record }) => record).join(' ')),
    );
    return done();
  }),
];
