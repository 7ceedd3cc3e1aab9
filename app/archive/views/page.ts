import path from 'node:path';
import { serveStatic } from '@hono/node-server/serve-static';
import { Hono } from 'hono';
import type { Env } from '../serving/request.ts';

/** The archive's page among the built screens: it, what it loads, and none of the others. */
const SERVED = /^\/(archive\.html|icon\.svg|assets\/[\w.-]+)$/;

/** Serves the archive's page. @param screens the folder of the built screens */
export const pageRoutes = (screens: string): Hono<Env> => {
  const files = serveStatic<Env>({
    rewriteRequestPath: (name) => path.join(screens, name === '/' ? 'archive.html' : name),
  });
  return new Hono<Env>().get('*', (c, next) =>
    c.req.path === '/' || SERVED.test(c.req.path) ? files(c, next) : next(),
  );
};
