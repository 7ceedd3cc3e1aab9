import path from 'node:path';
import { serveStatic } from '@hono/node-server/serve-static';
import { Hono } from 'hono';
import { KALDI_WORKER, KALDI_WORKER_POLICY } from '../guard.ts';
import { Refused } from '../refused.ts';
import { whereOf, type Env } from '../request.ts';

/** The built screens: the files of a folder and no others. */
export const pageRoutes = (renderer: string): Hono<Env> =>
  new Hono<Env>()
    .use(async (c, next) => {
      await next();
      if (!c.res.ok) return;
      // Files that the build named by their content may be kept by the browser for ever.
      const named = c.req.path.startsWith('/assets/');
      c.header('cache-control', named ? 'public, max-age=31536000, immutable' : 'no-cache');
      if (KALDI_WORKER.test(c.req.path)) c.header('content-security-policy', KALDI_WORKER_POLICY);
    })
    .use(
      serveStatic<Env>({
        rewriteRequestPath: (name) => path.join(renderer, name),
        onNotFound: (_, c) => {
          if (c.req.path !== '/') return;
          throw new Refused(503, {
            error: 'The screens are not built.',
            where: whereOf(c),
            advice: 'Run: npx vite build',
          });
        },
      }),
    );
