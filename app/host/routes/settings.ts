import { Hono } from 'hono';
import { readSettings, writeSettings } from '../../settings/settingsFile.ts';
import { SettingsSchema } from '../api.ts';
import { readJson, type Env } from '../request.ts';
import type { HostOptions } from '../server.ts';

/** What the user has set. */
export const settingsRoutes = ({ data, warn }: Pick<HostOptions, 'data' | 'warn'>): Hono<Env> =>
  new Hono<Env>()
    .get('/api/settings', async (c) => c.json(await readSettings(data, warn)))
    .put('/api/settings', async (c) => {
      const settings = await readJson(c, SettingsSchema);
      await writeSettings(data, settings);
      return c.json(settings);
    });
