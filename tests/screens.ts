/**
 * Draws every screen into .cache/screens, in the light, in the dark and on a phone: `npm run screens`, or with words in the
 * names of those that are wanted, `npm run screens -- end room`. Rehearsals in it are made up.
 */
import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { keepRehearsal, keepTest, rehearsed } from './browser/made/made.ts';
import { READ_MOMENTS } from './browser/made/readMoments.ts';
import { met, MOMENTS, squeezed } from './browser/made/madeResident.ts';
import { buildRoom } from './browser/roomInBrowser.ts';
import { serveRoomPage } from './browser/roomPage/openRoomPage.ts';
import type { Moment, RoomPage } from './browser/roomPage/page.tsx';
import { WAYS } from './browser/made/ways.ts';

declare const window: { readonly page: RoomPage };

const OUT = fileURLToPath(new URL('../.cache/screens/', import.meta.url));

const WINDOWS = [
  { name: 'light', width: 1280, height: 800, colorScheme: 'light' },
  { name: 'small', width: 1024, height: 768, colorScheme: 'light' },
  { name: 'dark', width: 1280, height: 800, colorScheme: 'dark' },
  { name: 'phone', width: 390, height: 844, colorScheme: 'light' },
  { name: 'phone-dark', width: 390, height: 844, colorScheme: 'dark' },
] as const;

/** Moments of the room, each by what it shows. */
async function moments(): Promise<Readonly<Record<string, Moment>>> {
  const bed = await rehearsed('occupied-bed-1-all', 12);
  const live = (made: { skill: string; events: Moment['events']; now: number }): Moment => ({
    skill: made.skill,
    events: (made.events ?? []).filter(({ type }) => type !== 'ended'),
    now: made.now,
  });
  const begun = live(await rehearsed('hand-washing-3-short-scrub', 11));
  const short = live(await rehearsed('hand-washing-3-short-scrub', 16));
  return {
    opening: { skill: 'hand-washing', phase: 'opening' },
    ready: { skill: 'range-of-motion-hip', phase: 'ready' },
    live: { ...live(bed), partial: 'now I am rolling the old sheet' },
    clock: { ...begun, now: (begun.now ?? 0) + 9, caption: 'About 9 seconds so far.' },
    short: { ...short },
    paused: {
      ...begun,
      events: [...(begun.events ?? []), { type: 'paused', at: begun.now ?? 0 }],
      caption:
        'Paused. The clock has stopped. Say "go on" when you are ready, and start the timed step again.',
    },
    card: { ...live(bed), caption: 'card' },
    trouble: { ...live(bed), troubles: ['microphone lost', 'host'] },
    silent: { ...live(bed), silent: true },
    ...READ_MOMENTS,
    ...MOMENTS,
  };
}

const wanted = process.argv.slice(2);
const isWanted = (name: string): boolean => wanted.length === 0 || wanted.some((word) => name.includes(word));

async function draw(page: Page, name: string, whole: boolean): Promise<void> {
  const { width } = page.viewportSize() ?? { width: 0 };
  await page.waitForTimeout(300);
  const file = path.join(OUT, `${name}.png`);
  await page.screenshot({ path: file, fullPage: whole });
  console.log(`${path.relative(process.cwd(), file)} (${width} wide)`);
}

async function drawRoom(browser: Browser, url: string): Promise<void> {
  const all = await moments();
  for (const { name: look, colorScheme, ...viewport } of WINDOWS) {
    const page = await browser.newPage({ viewport, colorScheme });
    await page.goto(url);
    for (const [name, moment] of Object.entries(all)) {
      if (!isWanted(`room ${name}`)) continue;
      await page.evaluate((shown) => window.page.show(shown), moment);
      await draw(page, `room-${name.replaceAll(' ', '-')}-${look}`, false);
    }
    await page.close();
  }
}

async function drawScreens(browser: Browser, url: string): Promise<void> {
  for (const { name: look, colorScheme, ...viewport } of WINDOWS) {
    const page = await browser.newPage({ viewport, colorScheme });
    // Nobody speaks here: the models need not be loaded.
    await page.route('**/models/**', (route) => route.abort());
    await page.goto(url);
    for (const [name, go] of Object.entries(WAYS)) {
      if (!isWanted(name)) continue;
      await go(page);
      await draw(page, `${name.replaceAll(' ', '-')}-${look}`, true);
    }
    await page.close();
  }
}

async function keepAll(host: string): Promise<void> {
  await keepTest(
    host,
    ['hand-washing-3-short-scrub', 'mouth-care-1-all', 'respirations-1-all'],
    '2026-11-20T09:30:00.000Z',
  );
  await keepRehearsal(host, 'occupied-bed-5-whole', '2026-11-21T09:30:00.000Z');
  await keepRehearsal(host, 'bedpan-2-second-language', '2026-11-19T08:10:00.000Z', 8);
  await keepRehearsal(host, 'pivot-transfer-3-brakes-late', '2026-11-22T16:05:00.000Z');
  await keepRehearsal(host, 'respirations-1-all', '2026-11-22T08:10:00.000Z', undefined, [
    met('respirations', 'even'),
  ]);
  await keepRehearsal(host, 'blood-pressure-1-all', '2026-11-22T09:10:00.000Z', undefined, [
    met('pressure'),
    ...squeezed(10, 160, 4),
  ]);
  await keepRehearsal(host, 'urine-output-1-all', '2026-11-22T10:10:00.000Z', undefined, [met('urine')]);
  await keepRehearsal(host, 'standing-weight-1-all', '2026-11-22T11:10:00.000Z', undefined, [met('weight')]);
  await keepRehearsal(host, 'hand-washing-3-short-scrub', '2026-11-23T08:10:00.000Z');
}

if (wanted.length === 0) await rm(OUT, { recursive: true, force: true });
await mkdir(OUT, { recursive: true });
const room = await buildRoom();
const browser = await room.browser('/dev/null', 'once');
try {
  if (wanted.length === 0 || wanted.some((word) => word.startsWith('room'))) {
    const host = await serveRoomPage(room.folder);
    await drawRoom(browser, host.url);
    await host.close();
  }
  const host = await room.host();
  await keepAll(host.url);
  await drawScreens(browser, host.url);
  await host.close();
} finally {
  await browser.close();
  await room.remove();
}
