import type { Page } from 'playwright-core';
import { z } from 'zod';
import { RehearsalSummarySchema, type Latest } from '../../../app/host/api.ts';
import { ADDRESS } from '../../../renderer/addresses.ts';

/** Goes to an address of the program that is open in the page, and waits for the heading that the screen there has. */
async function go(page: Page, address: string, title: RegExp): Promise<void> {
  await page.goto(new URL(`#${address}`, page.url()).href);
  await page.getByRole('heading', { level: 1, name: title }).waitFor();
}

const to =
  (address: string, title: RegExp) =>
  (page: Page): Promise<void> =>
    go(page, address, title);

/** Goes to the address of the latest rehearsal with a title like this. */
const toKept =
  (kept: RegExp, addressOf: (id: string) => string, title: RegExp) =>
  async (page: Page): Promise<void> => {
    const reply = await page.request.get(new URL('api/rehearsals', page.url()).href);
    const rehearsals = z.array(RehearsalSummarySchema).parse(await reply.json());
    const found = rehearsals.find((each) => kept.test(each.title));
    if (!found) throw new Error(`No rehearsal like ${kept} is kept.`);
    await go(page, addressOf(found.id), title);
  };

const press = (page: Page, name: string | RegExp): Promise<void> =>
  page.getByRole('button', { name }).first().click();

const ENDED = /how it went/;
/** What the host answers where nothing was rehearsed. */
export const NOTHING: Latest = { rehearsals: [], of: 0, counts: {}, reading: null };

/** How one gets to each screen but the room, from any other. */
export const WAYS: Readonly<Record<string, (page: Page) => Promise<void>>> = {
  home: to(ADDRESS.home, /What do you rehearse/),
  'skill page': to(ADDRESS.rehearse('hand-washing'), /Hand washing/),
  'skill page to measure': to(ADDRESS.rehearse('blood-pressure'), /blood pressure/),
  'mock test': to(ADDRESS.mockTest, /Mock test/),
  'mock test drawn': async (page) => {
    await go(page, ADDRESS.mockTest, /Mock test/);
    await press(page, 'Draw');
  },
  progress: to(ADDRESS.progress, /Progress/),
  deleting: async (page) => {
    await go(page, ADDRESS.progress, /Progress/);
    await press(page, /^Delete/);
  },
  skills: async (page) => {
    await go(page, ADDRESS.skills, /Skills/);
    await page.getByRole('link', { name: /^Hand washing/ }).waitFor();
  },
  'skill editor': async (page) => {
    await go(page, ADDRESS.editSkill('hand-washing'), /./);
    await page.getByText(/No faults/).waitFor();
  },
  instructor: to(ADDRESS.instructor, /Instructor/),
  review: async (page) => {
    await toKept(/^Hand washing/, ADDRESS.review, /Review/)(page);
    await page.getByRole('textbox', { name: 'Who reviews' }).fill('R. Field');
  },
  bench: to(ADDRESS.bench, /./),
  ...Object.fromEntries(
    ['Respirations', 'Pulse at the wrist', 'Blood pressure', 'Urine output', 'Standing weight'].map(
      (measure) => [
        `bench ${measure.toLowerCase()}`,
        async (page: Page) => {
          await go(page, ADDRESS.home, /./);
          await go(page, ADDRESS.bench, /The bench/);
          await page.getByRole('radio', { name: measure }).check();
          await press(page, 'Begin');
        },
      ],
    ),
  ),
  settings: to(ADDRESS.settings, /Settings/),
  'sound check': to(ADDRESS.soundCheck, /Sound check/),
  listening: to(ADDRESS.listening, /How it hears you/),
  end: toKept(/^Hand washing/, ADDRESS.rehearsal, ENDED),
  'end unfolded': async (page) => {
    await toKept(/^Hand washing/, ADDRESS.rehearsal, ENDED)(page);
    await page.evaluate('document.querySelectorAll("details").forEach((each) => { each.open = true; })');
  },
  'long end': toKept(/occupied bed/, ADDRESS.rehearsal, ENDED),
  'cut off end': toKept(/bedpan/, ADDRESS.rehearsal, ENDED),
  'bench end respirations': toKept(/^Counting respirations/, ADDRESS.rehearsal, ENDED),
  'bench end pressure': toKept(/^Measuring blood pressure/, ADDRESS.rehearsal, ENDED),
  'bench end urine': toKept(/^Measuring urine/, ADDRESS.rehearsal, ENDED),
  'bench end weight': toKept(/^Weighing/, ADDRESS.rehearsal, ENDED),
  'test end': toKept(/^Mock test/, ADDRESS.rehearsal, ENDED),
  'skill of a test': toKept(/^Mock test/, (id) => ADDRESS.skillOfTest(id, 0), ENDED),
  'not there': to('/no-such-screen', /no such screen/),
  /** As long as nothing was rehearsed; the last of all, as it loads the page again. */
  'first visit': async (page) => {
    await page.route('**/api/rehearsals/latest', (route) => route.fulfill({ json: NOTHING }), { times: 1 });
    await page.goto(new URL('/', page.url()).href);
    await page.getByRole('region', { name: 'Your first rehearsal' }).waitFor();
  },
};
