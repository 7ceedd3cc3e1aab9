import { Hono } from 'hono';
import { methodNotAllowed } from 'hono/method-not-allowed';
import type { Taking } from '../taking/takeIn.ts';
import { pageRoutes } from '../views/page.ts';
import { viewRoutes } from '../views/routes.ts';
import { EnrolSchema } from './api.ts';
import { attemptRoutes } from './routes/attempts.ts';
import { enrol } from './enrolling.ts';
import { Gate } from './gate/gate.ts';
import { SAFE_HEADERS, TLS_HEADERS } from './headers.ts';
import type { Limits } from './gate/limits.ts';
import { faultOf, problemOf, Refused, refusalOf } from './refused.ts';
import { readJson, whereOf, type Env } from './request.ts';
import type { Route } from './route.ts';
import { accountRoutes, classRoutes } from './routes/school.ts';
import { stationRoutes } from './routes/station.ts';

export interface AppOptions {
  readonly limits: Limits;
  /** Whether who asks comes over TLS, to here or to a proxy in front. */
  readonly isOverTls: boolean;
  readonly isBehindProxy: boolean;
  /** The folder of the built screens, the archive's page among them. */
  readonly screens?: string | undefined;
  /** Hears what went wrong that nobody who asks is told. */
  readonly warn: (message: string) => void;
}

/** Everything that who has signed in can ask. */
export const routesOf = (taking: Taking): Route[] => [
  ...stationRoutes(taking),
  ...accountRoutes(),
  ...classRoutes(taking),
  ...attemptRoutes(taking),
  ...viewRoutes(taking),
];

/** All that can be asked of the archive. Whatever goes wrong is answered with a Problem. */
export function archiveApp(taking: Taking, options: AppOptions, routes = routesOf(taking)): Hono<Env> {
  const { limits, isBehindProxy, isOverTls } = options;
  const gate = new Gate(taking.archive, limits, isBehindProxy);
  const headers = Object.entries({ ...SAFE_HEADERS, ...(isOverTls && TLS_HEADERS) });
  const app = new Hono<Env>();
  app.onError((error, c) => {
    const where = whereOf(c);
    const refused = refusalOf(error);
    if (refused) {
      if (refused.retryAfter !== undefined) c.header('retry-after', String(refused.retryAfter));
      return c.json(problemOf(refused, where), refused.status);
    }
    // Who broke off a request has seen to it that it fails.
    if (!c.req.raw.signal.aborted) options.warn(`${where}: ${error.stack ?? error.message}`);
    return c.json(faultOf(where), 500);
  });
  app.notFound((c) => {
    const nothing = new Refused(404, 'There is nothing here.', 'See app/archive/serving for what there is.');
    return c.json(problemOf(nothing, whereOf(c)), 404);
  });
  app
    .use(async (c, next) => {
      for (const [name, value] of headers) c.header(name, value);
      await next();
    })
    .use(
      methodNotAllowed({
        app,
        onMethodNotAllowed: (_c, methods) => {
          throw new Refused(405, 'This cannot be done here.', `Use ${methods.join(' or ')}.`);
        },
      }),
    )
    .post('/api/enrol', async (c) => {
      const { code } = await readJson(c, EnrolSchema);
      const enrolled = await gate.guess(c, () => enrol(taking.archive, code));
      if (enrolled) return c.json(enrolled, 201);
      throw new Refused(403, 'This code does not work: it works once, for a day.', 'Ask for a new one.');
    });
  for (const each of routes) app.on(each.method, each.path, (c) => gate.pass(c, each));
  if (options.screens !== undefined) app.route('/', pageRoutes(options.screens));
  return app;
}
