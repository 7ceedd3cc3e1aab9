import { randomUUID } from 'node:crypto';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeAccount } from '../../app/archive/serving/accounts.ts';
import { serveArchive, type ArchiveServer } from '../../app/archive/serving/server.ts';
import { SchoolLibraries } from '../../app/archive/taking/schoolLibrary.ts';
import { DATABASES, type TestDatabases } from '../archive/databases.ts';
import { makeSchool, madeSents, NO_PARTS, programs } from '../archive/takenSchool.ts';
import { axeFaults, builtRenderer, openBrowser } from './roomInBrowser.ts';

let databases: TestDatabases;
let server: ArchiveServer;
let browser: Browser;
let page: Page;
let token: string;

beforeAll(async () => {
  const screens = await builtRenderer();
  const [embedded] = DATABASES;
  databases = await (embedded ?? expect.fail('no database')).start();
  const archive = await databases.open();
  const school = await makeSchool(archive, 'Larkfield');
  const people = [1, 2, 3].map(() => ({ person: randomUUID(), class: 'Spring' }));
  await school.take(madeSents(people, 3, 0, 'hand-washing'));
  const made = await archive.as({ role: 'keeper' }, (db) =>
    makeAccount(db, school.id, { role: 'school', name: 'The school' }),
  );
  token = made.token;
  const taking = { archive, parts: NO_PARTS, libraries: new SchoolLibraries(programs) };
  server = await serveArchive(taking, { port: 0, screens, warn: (message) => expect.fail(message) });
  browser = await openBrowser('/dev/null', 'once');
  page = await browser.newPage({ viewport: { width: 1280, height: 900 }, colorScheme: 'light' });
  await page.goto(server.url);
}, 120_000);
afterAll(async () => {
  await browser.close();
  await server.close();
  await databases.end();
});

describe('the page of the archive', () => {
  it('lets nobody in without a token that is known', async () => {
    expect(await axeFaults(page)).toEqual([]);
    await page.getByLabel('Your token').fill('x'.repeat(43));
    await page.keyboard.press('Enter');
    await page
      .getByRole('alert')
      .getByText(/Nobody has this token/)
      .waitFor();
    expect((await fetch(new URL('/api/views/choices', server.url))).status).toBe(401);
    // The room's own page is not the archive's to serve.
    expect((await fetch(new URL('/index.html', server.url))).status).toBe(404);
  });

  it('shows the school, a class as the room does, and nothing across schools of so few people', async () => {
    await page.getByLabel('Your token').fill(token);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Larkfield' }).waitFor();
    await page.getByRole('heading', { name: 'Spring (3 people)' }).waitFor();
    expect(await axeFaults(page)).toEqual([]);

    await page.getByLabel('Skill').selectOption('hand-washing');
    await page.getByLabel('Look at').selectOption({ label: 'Spring' });
    await page.getByRole('region', { name: 'Steps and trainees' }).waitFor();
    expect(await page.getByRole('columnheader', { name: /Trainee/ }).count()).toBe(3);
    await page.emulateMedia({ colorScheme: 'dark' });
    expect(await axeFaults(page)).toEqual([]);

    await page.reload();
    await page.getByRole('region', { name: 'Steps and trainees' }).waitFor();
    await page.getByLabel('Look at').selectOption('across');
    await page.getByText('Too few people to show.').first().waitFor();
    await page.getByText(/Practice aid, not a licence/).waitFor();

    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.getByLabel('Your token').waitFor();
    expect(await page.evaluate(() => sessionStorage.length)).toBe(0);
  });
});
