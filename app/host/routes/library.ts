import { Hono } from 'hono';
import { packagedFiles } from '../../engines/packaged.ts';
import { shelfOf, type Library } from '../../library/library.ts';
import {
  CheckSkillSchema,
  ExportSkillsSchema,
  ImportPackSchema,
  MOST_PACK_BYTES,
  SaveSkillSchema,
  type Library as LibraryReply,
} from '../api.ts';
import { demoSound, readDemo } from '../demo.ts';
import { readJson, type Env } from '../request.ts';
import type { HostOptions } from '../server.ts';
import { checker } from '../skillCheck.ts';

/** What there is to rehearse, and what the editor of skills asks; skillsApi.ts tells its messages. */
export function libraryRoutes({
  skills,
  packaged = packagedFiles(),
}: Pick<HostOptions, 'skills' | 'packaged'>): Hono<Env> {
  const check = checker(skills.library, packaged);
  return new Hono<Env>()
    .get('/api/library', (c) => c.json(replyOf(skills.library)))
    .get('/api/demo', async (c) => c.json(await readDemo()))
    .get('/api/demo/sound', async (c) =>
      c.body(await demoSound(), 200, { 'content-type': 'application/octet-stream' }),
    )
    .get('/api/skills', async (c) => c.json(await skills.list()))
    .post('/api/skills/check', async (c) => {
      const { source, phrase, variants } = await readJson(c, CheckSkillSchema);
      return c.json(await check(source, phrase, variants));
    })
    .post('/api/skills/export', async (c) =>
      c.json(await skills.export((await readJson(c, ExportSkillsSchema)).ids)),
    )
    .post('/api/skills/import', async (c) => {
      const { pack, replace } = await readJson(c, ImportPackSchema, MOST_PACK_BYTES);
      return c.json(await skills.import(pack, replace));
    })
    .put('/api/skills/:id', async (c) => {
      const id = c.req.param('id');
      const { source, fresh } = await readJson(c, SaveSkillSchema);
      const { version } = await skills.save(id, source, fresh);
      return c.json({ id, version });
    })
    .get('/api/skills/:id/source', async (c) => {
      const id = c.req.param('id');
      return c.json({ id, source: await skills.source(id) });
    })
    .get('/api/skills/:id/versions', (c) => c.json(skills.versionsOf(c.req.param('id'))))
    .get('/api/skills/:id/versions/:n{\\d+}', async (c) => {
      const { id, n } = c.req.param();
      return c.json({ id, source: await skills.versionSource(id, Number(n)) });
    });
}

function replyOf(library: Library): LibraryReply {
  return { ...shelfOf(library), care: library.care, rules: library.rules, faults: [...library.faults] };
}
