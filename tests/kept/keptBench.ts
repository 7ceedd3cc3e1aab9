/**
 * What keeping a whole school costs: `npm run bench:kept -- --attempts 10000`. Makes a data folder (or takes that of `--folder`), then
 * prints what its index, its lists, its class view and an append cost, in Node and in Chromium, each beside the most it may be. Nothing
 * else should be running.
 */
import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { parseArgs } from 'node:util';
import { measureAppends } from './appendCost.ts';
import { Figures } from './figures.ts';
import { measureIndex } from './indexCost.ts';
import { measureOpening, measurePages } from './pageCost.ts';
import { makeSchool } from './school.ts';

const PEOPLE = 300;
const { values } = parseArgs({
  options: { attempts: { type: 'string', default: '10000' }, folder: { type: 'string' } },
});

const folder = values.folder ?? (await mkdtemp(path.join(tmpdir(), 'sinkside-kept-')));
const figures = new Figures();
try {
  const isMade = (await readdir(folder)).includes('rehearsals');
  if (!isMade) {
    const before = process.cpuUsage();
    await makeSchool(folder, { attempts: Number(values.attempts), people: PEOPLE });
    const { user, system } = process.cpuUsage(before);
    figures.add('making the school, processor', (user + system) / 1e6, 's', 120);
  }
  await measureIndex(folder, figures);
  await measureAppends(figures);
  await measureOpening(folder, figures);
  await measurePages(folder, figures);
} finally {
  if (values.folder === undefined) await rm(folder, { recursive: true });
}
process.exit(figures.missed);
