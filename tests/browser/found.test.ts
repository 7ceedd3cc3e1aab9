import path from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Host } from '../../app/host/server.ts';
import { makeSchool } from '../kept/school.ts';
import { axeFaults, buildRoom, type BuiltRoom } from './roomInBrowser.ts';

/** A small school's rehearsals, found by skill, class and day. */

const ATTEMPTS = 80;
let room: BuiltRoom;
let host: Host;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  room = await buildRoom();
  const skills = ['hand-washing', 'bedpan', 'feeding-and-fluids'];
  await makeSchool(path.join(room.folder, 'data'), { attempts: ATTEMPTS, people: 24, runs: 1, skills });
  host = await room.host();
  browser = await room.browser('/dev/null', 'once');
  page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
  page.setDefaultTimeout(30_000);
  await page.route('**/models/**', (route) => route.abort());
}, 120_000);
afterAll(async () => {
  await browser.close();
  await host.close();
  await room.remove();
});

const open = async (address: string, title: RegExp): Promise<void> => {
  await page.goto(`${host.url}#${address}`);
  await page.getByRole('heading', { level: 1, name: title }).waitFor();
};
const says = (pattern: RegExp): Promise<void> =>
  page.getByRole('status').filter({ hasText: pattern }).waitFor();
const number = async (): Promise<number> =>
  Number(
    /^\d+/.exec(
      await page
        .getByRole('status')
        .filter({ hasText: /of \d+/ })
        .innerText(),
    ),
  );
const choice = (name: string) => page.getByRole('search').getByRole('combobox', { name });
const day = (name: string) => page.getByRole('search').getByRole('textbox', { name });
const entries = () => page.getByRole('list', { name: 'Rehearsals' }).getByRole('listitem');

describe('the instructor’s list', () => {
  it('shows the newest, and more when that is asked for', async () => {
    await open('/instructor', /Instructor/);
    await says(/^80 of 80 rehearsals; the newest 30 are shown/);
    expect(await entries().count()).toBe(30);
    await page.getByRole('button', { name: 'Show 30 more' }).first().click();
    await says(/the newest 60 are shown/);
    expect(await entries().count()).toBe(60);
    expect(await axeFaults(page)).toEqual([]);
  });

  it('is searched by skill, class and day, and a link or another loading keeps what is looked for', async () => {
    await open('/instructor', /Instructor/);
    await says(/^80 of 80/);
    await choice('Class').selectOption('Class 3');
    await says(/^\d of 80 rehearsals\./);
    const inClass = await number();
    await choice('Skill').selectOption('bedpan');
    await day('From').fill('2025-10-01');
    await page.waitForURL(/skill=bedpan&class=Class\+3&from=2025-10-01/);
    await expect.poll(number).toBeLessThan(inClass);
    const found = await number();
    await page.reload();
    await says(new RegExp(`^${found} of 80`));
    expect(await choice('Class').inputValue()).toBe('Class 3');
    expect(await day('From').inputValue()).toBe('2025-10-01');
    await expect.poll(() => entries().count()).toBe(found);
    // The people of that class alone.
    expect(await page.getByRole('region', { name: 'People' }).getByText(', Class ').count()).toBe(2);
  });
});

describe('what one trainee sees of it', () => {
  it('is their own attempts', async () => {
    await open('/', /What do you rehearse/);
    const who = page.getByLabel('Who rehearses?');
    const name = await who.locator('option').nth(1).innerText();
    await who.selectOption({ index: 1 });
    await open('/progress', /Progress/);
    await says(/^\d of \d+ rehearsals\./);
    const own = await entries().allInnerTexts();
    expect(own.length).toBe(await number());
    for (const entry of own) expect(entry).toContain(name.split(' (')[0]);
    await open('/', /What do you rehearse/);
    await who.selectOption({ index: 0 });
  });
});

describe('the class view', () => {
  it('shows the class and the time that are looked for, those who have not tried among them', async () => {
    await open('/progress/hand-washing', /Progress: Hand washing/);
    await says(/^\d+ of \d+ attempts\./);
    const all = await number();
    await choice('Class').selectOption('Class 4');
    await page.waitForURL(/\/progress\/hand-washing\/class=Class\+4/);
    await expect.poll(number).toBeLessThan(all);
    const heads = page.getByRole('region', { name: 'Steps and trainees' }).locator('thead th');
    expect(await heads.count()).toBe(1 + 2);
    await day('To').fill('2025-09-01');
    await expect.poll(number).toBe(0);
    await day('To').fill('');
    await choice('Skill').selectOption('bedpan');
    await page.getByRole('heading', { level: 1, name: /bedpan/i }).waitFor();
    expect(await choice('Class').inputValue()).toBe('Class 4');
    expect(await axeFaults(page)).toEqual([]);
  });
});
