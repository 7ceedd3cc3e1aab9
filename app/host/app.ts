import { Hono } from 'hono';
import { methodNotAllowed } from 'hono/method-not-allowed';
import { guard, SAFE_HEADERS } from './guard.ts';
import { foundRoutes } from './routes/found.ts';
import { archiveRoutes } from './routes/archive.ts';
import { bundleRoutes } from './routes/bundles.ts';
import { judgedRoutes } from './routes/judged.ts';
import { libraryRoutes } from './routes/library.ts';
import { modelRoutes } from './routes/models.ts';
import { pageRoutes } from './routes/page.ts';
import { peopleRoutes } from './people/routes.ts';
import { Refused, refusalOf } from './refused.ts';
import { readingRoutes } from './routes/readings.ts';
import { rehearsalRoutes } from './routes/rehearsals.ts';
import { whereOf, type Env } from './request.ts';
import type { HostOptions } from './server.ts';
import { reportRoutes } from './routes/reports.ts';
import { settingsRoutes } from './routes/settings.ts';
import type { BenchReadings } from '../people/benchReadings.ts';
import { InstructorsArea } from '../people/instructorsArea.ts';
import type { Carrier } from '../carrying/carrier.ts';
import type { PeopleFile } from '../people/peopleFile.ts';
import type { Rehearsals } from '../records/rehearsals.ts';
import type { Sender } from '../sending/sender.ts';

/**
 * All that can be asked of the host, behind its guard. Whatever goes wrong is answered with a Problem.
 *
 * @param id tells this host from every other
 */
export function hostApp(
  id: string,
  options: HostOptions,
  rehearsals: Rehearsals,
  people: PeopleFile,
  carrier: Carrier,
  bench: BenchReadings,
  sender: Sender,
): Hono<Env> {
  const area = new InstructorsArea(options.data);
  const app = new Hono<Env>();
  app.onError((error, c) => {
    const { status, problem } = refusalOf(error, whereOf(c));
    // Who broke off a request has seen to it that it fails.
    if (status === 500 && !c.req.raw.signal.aborted)
      options.warn(`${whereOf(c)}: ${error.stack ?? error.message}`);
    return c.json(problem, status);
  });
  app.notFound((c) => {
    const advice = 'See app/host/api.ts for what there is.';
    return c.json({ error: 'There is nothing here.', where: whereOf(c), advice }, 404);
  });
  return app
    .use(async (c, next) => {
      for (const [name, value] of Object.entries(SAFE_HEADERS)) c.header(name, value);
      c.header('cache-control', 'no-store');
      guard(c.env.incoming);
      await next();
    })
    .use(
      methodNotAllowed({
        app,
        onMethodNotAllowed: (c, methods) => {
          const advice = `Use ${methods.join(' or ')}.`;
          throw new Refused(405, { error: 'This cannot be done here.', where: whereOf(c), advice });
        },
      }),
    )
    .use('/api/rehearsals/*', async (c, next) => {
      await next();
      if (c.req.method !== 'GET') sender.changed();
    })
    .get('/api/host', (c) => c.json({ id }))
    .route('/', libraryRoutes(options))
    .route('/', modelRoutes(options))
    .route('/', settingsRoutes(options))
    .route('/', peopleRoutes(people, area, rehearsals, bench, sender))
    .route('/', foundRoutes(rehearsals, people, area))
    .route('/', rehearsalRoutes(rehearsals, people, area))
    .route('/', bundleRoutes(carrier, rehearsals.root, area))
    .route('/', judgedRoutes(rehearsals, options.skills.library, area))
    .route('/', archiveRoutes(sender, area))
    .route('/', reportRoutes(rehearsals, options.skills.library, people, area))
    .route('/', readingRoutes(bench, rehearsals, people, options.skills.library, area))
    .route('/', pageRoutes(options.renderer));
}
