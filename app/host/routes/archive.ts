import { Hono, type MiddlewareHandler } from 'hono';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import { ArchiveAway, ArchiveRefused, KeyRefused } from '../../sending/archiveClient.ts';
import { BadAddress } from '../../sending/enrolment.ts';
import type { Sender } from '../../sending/sender.ts';
import { NewEnrolmentSchema, SendingSchema } from '../api.ts';
import { checkInstructor, viewerOf } from '../people/viewer.ts';
import { Refused } from '../refused.ts';
import { readJson, whereOf, type Env } from '../request.ts';

/** Sending to the school's archive, which the instructor sets up. */
export function archiveRoutes(sender: Sender, area: InstructorsArea): Hono<Env> {
  const instructorOnly: MiddlewareHandler<Env> = async (c, next) => {
    checkInstructor(await viewerOf(c, area));
    await next();
  };
  return new Hono<Env>()
    .use('/api/archive/*', instructorOnly)
    .use('/api/archive', instructorOnly)
    .get('/api/archive', async (c) => c.json(await sender.standing()))
    .post('/api/archive/enrol', async (c) => {
      const { address, code } = await readJson(c, NewEnrolmentSchema);
      await answering(whereOf(c), () => sender.enrol(address, code));
      return c.body(null, 204);
    })
    .put('/api/archive/sending', async (c) => {
      await sender.setOn((await readJson(c, SendingSchema)).isOn);
      return c.body(null, 204);
    })
    .post('/api/archive/now', async (c) => {
      await answering(whereOf(c), () => sender.sendNow({ again: true }));
      return c.body(null, 204);
    })
    .delete('/api/archive', async (c) => {
      await sender.leave();
      return c.body(null, 204);
    });
}

/** What the archive answered, or its silence, as this host's own answer. */
async function answering<T>(where: string, work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    const refused = (status: 400 | 502, advice: string): Refused =>
      new Refused(status, { error: (error as Error).message, where, advice });
    if (error instanceof BadAddress) throw refused(400, 'Ask the school for the address of its archive.');
    if (error instanceof ArchiveAway) throw refused(502, 'Nothing is lost: what waits is sent later.');
    if (error instanceof KeyRefused) throw refused(502, 'Ask the school for a new code, and enrol again.');
    if (error instanceof ArchiveRefused) throw refused(502, 'Ask the school for a new code.');
    throw error;
  }
}
