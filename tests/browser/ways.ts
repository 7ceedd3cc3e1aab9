import type { Page } from 'playwright-core';

/** How one gets to each screen from the first: the one place that knows their names and addresses. */

const press = (page: Page, name: string | RegExp): Promise<void> =>
  page.getByRole('button', { name }).first().click();
const heading = (page: Page, name: RegExp): Promise<void> =>
  page.getByRole('heading', { level: 1, name }).waitFor();

const openPast = async (page: Page, title: RegExp): Promise<void> => {
  await press(page, 'Past rehearsals');
  await press(page, title);
  await heading(page, /how it went/);
};

/** Each from the first screen. */
export const WAYS: Readonly<Record<string, (page: Page) => Promise<void>>> = {
  start: async () => undefined,
  'sound check': (page) => press(page, 'Sound check'),
  listening: (page) => press(page, 'Listening'),
  past: (page) => press(page, 'Past rehearsals'),
  skills: (page) => press(page, /^Skills/),
  'skill editor': async (page) => {
    await press(page, /^Skills/);
    await press(page, /^Hand washing/);
    await page.getByLabel('Title').first().waitFor();
  },
  'mock test': (page) => press(page, 'Mock test'),
  end: (page) => openPast(page, /^Hand washing/),
  'long end': (page) => openPast(page, /occupied bed/),
  'cut off end': (page) => openPast(page, /bedpan/),
  'test end': (page) => openPast(page, /^Mock test/),
};
