import { readFile, writeFile } from 'node:fs/promises';
import path from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { RehearsalSchema, RehearsalsSchema } from '../../app/host/api.ts';
import type { Host } from '../../app/host/server.ts';
import { keepRehearsal } from './made/made.ts';
import { axeFaults, buildRoom, type BuiltRoom } from './roomInBrowser.ts';

/** Rehearsals carried from a trainee's machine to the instructor's, as people do it in their browsers. */

/** Other tests may keep both cores busy. */
const SOON = { timeout: 20_000 };

let rooms: readonly [BuiltRoom, BuiltRoom];
let hosts: readonly [Host, Host];
let browser: Browser;

beforeAll(async () => {
  rooms = [await buildRoom(), await buildRoom()];
  hosts = [await rooms[0].host(), await rooms[1].host()];
  browser = await rooms[0].browser('/dev/null', 'once');
}, 120_000);
afterAll(async () => {
  await browser.close();
  for (const host of hosts) await host.close();
  for (const room of rooms) await room.remove();
});

async function instructor({ url }: Host): Promise<Page> {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, colorScheme: 'light' });
  page.setDefaultTimeout(SOON.timeout);
  await page.goto(`${url}#/instructor`);
  await page.getByRole('heading', { level: 2, name: 'Copy rehearsals between computers' }).waitFor();
  return page;
}
const takeIn = (page: Page, file: string): Promise<void> =>
  page.getByLabel('A file of rehearsals').setInputFiles(file);
const kept = async ({ url }: Host) =>
  RehearsalsSchema.parse(await (await fetch(`${url}api/rehearsals`)).json());

it('go to another computer as one file, once, and a damaged file changes nothing', async () => {
  const [theirs, ours] = hosts;
  const id = await keepRehearsal(theirs.url, 'hand-washing-3-short-scrub', '2026-02-01T09:30:00.000Z');
  const from = await instructor(theirs);
  const bundles = from.getByRole('region', { name: 'Copy rehearsals between computers' });
  const coming = from.waitForEvent('download');
  await bundles.getByRole('button', { name: 'Save as one file' }).press('Enter');
  const download = await coming;
  expect(download.suggestedFilename()).toMatch(/^rehearsals-[\d-]+\.sinkside\.zip$/);
  await bundles.getByText(/^1 rehearsal is in the file/).waitFor();
  const file = path.join(rooms[0].folder, download.suggestedFilename());
  await download.saveAs(file);
  expect(await axeFaults(from)).toEqual([]);

  const to = await instructor(ours);
  await takeIn(to, file);
  await to.getByText('1 rehearsal taken in.').waitFor();
  await to.getByRole('link', { name: /Hand washing/ }).waitFor();
  await takeIn(to, file);
  await to.getByText('1 rehearsal here already: nothing changed.').waitFor();
  const [here, ...more] = await kept(ours);
  expect([here?.id, more]).toEqual([id, []]);
  const [there] = await kept(theirs);
  expect(here).toEqual(there);
  const samples = async ({ url }: Host): Promise<number> =>
    RehearsalSchema.parse(await (await fetch(`${url}api/rehearsals/${id}`)).json()).samples;
  expect(await samples(ours)).toBe(await samples(theirs));

  const damaged = await readFile(file);
  damaged.writeUInt8(damaged.readUInt8(damaged.length >> 1) ^ 1, damaged.length >> 1);
  await writeFile(file, damaged);
  await takeIn(to, file);
  await to
    .getByRole('alert')
    .getByText(/What is in the file is not what was put into it.*Nothing was taken in/)
    .waitFor();
  expect(await axeFaults(to)).toEqual([]);
  await to.emulateMedia({ colorScheme: 'dark' });
  expect(await axeFaults(to)).toEqual([]);
  await to.setViewportSize({ width: 390, height: 844 });
  expect(await to.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(390);
}, 120_000);
