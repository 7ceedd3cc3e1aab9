import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, afterEach, describe, expect, it } from 'vitest';
import {
  CreatedSchema,
  PeopleSchema,
  RehearsalSchema,
  RehearsalsSchema,
  TraineeSchema,
} from '../../app/host/api.ts';
import type { Host } from '../../app/host/server.ts';
import { axeFaults, buildRoom, openSkill, speakForRounds, type BuiltRoom } from './roomInBrowser.ts';

const PASSPHRASE = 'seven pale lemons';

/** Other tests may keep both cores busy. */
const SOON = { timeout: 20_000 };

let room: BuiltRoom;
let host: Host;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  room = await buildRoom();
  const said = 'Good morning, my name is Robin and I am your nurse aide today.';
  const sound = await speakForRounds(room.folder, said);
  host = await room.host();
  browser = await room.browser(sound, 'round');
}, 120_000);
afterAll(async () => {
  await browser.close();
  await host.close();
  await room.remove();
});
beforeEach(async () => {
  page = await browser.newPage({ viewport: { width: 1280, height: 800 }, colorScheme: 'light' });
  await page.goto(host.url);
  await page.getByRole('heading', { level: 1 }).waitFor();
});
afterEach(() => page.close());

const press = async (name: string | RegExp): Promise<void> => {
  await page.getByRole('button', { name }).focus();
  await page.keyboard.press('Enter');
};
const area = async (name: string): Promise<void> => {
  await page.getByRole('link', { name, exact: true }).focus();
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { level: 1, name: name === 'Rehearse' ? /What do you/ : name }).waitFor();
};
const get = async (where: string): Promise<unknown> => (await fetch(new URL(where, host.url))).json();
const send = async (where: string, body: object): Promise<unknown> => {
  const headers = { 'content-type': 'application/json' };
  return (
    await fetch(new URL(where, host.url), { method: 'POST', headers, body: JSON.stringify(body) })
  ).json();
};

/** Starts the rehearsal of hand washing, with the page of the skill open. */
const start = (): Promise<void> => press('Start the rehearsal');
const ready = (): Promise<void> => page.getByText('Ready', { exact: true }).waitFor({ timeout: 60_000 });

describe('people on one machine', () => {
  it('are added, asked before the first recording, and heard without sound kept where they say no', async () => {
    await press('Add a person');
    await page.keyboard.type('Kim Q.');
    await page.keyboard.press('Tab');
    await page.keyboard.type('Spring');
    await page.keyboard.press('Enter');
    await page.getByText(/Kim Q\.: not asked yet/).waitFor();
    expect(await axeFaults(page)).toEqual([]);

    await openSkill(page, /Hand washing/);
    expect(await page.getByLabel('Who rehearses?').inputValue()).not.toBe('');
    await start();
    const dialog = page.getByRole('dialog', { name: /Kim Q\., may your sound be kept/ });
    await dialog.waitFor();
    expect(await axeFaults(page)).toEqual([]);
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    expect(PeopleSchema.parse(await get('/api/people')).trainees[0]?.consent).toBeNull();

    await start();
    await dialog.waitFor();
    await press('No, rehearse without keeping it');
    await ready();
    await page.keyboard.press('Space');
    await page
      .locator('.latest-heard', { hasText: 'Greet the resident' })
      .first()
      .waitFor({ timeout: 60_000 });
    await page.keyboard.press('Escape');
    await page.getByRole('heading', { level: 1, name: /how it went/ }).waitFor({ timeout: 60_000 });
    await expect
      .poll(async () => RehearsalsSchema.parse(await get('/api/rehearsals'))[0]?.state, SOON)
      .toBe('ended');
    const [kept] = RehearsalsSchema.parse(await get('/api/rehearsals'));
    const { samples, events, header } = RehearsalSchema.parse(await get(`/api/rehearsals/${kept?.id}`));
    expect([samples, header.withoutSound, header.trainee]).toEqual([0, true, kept?.trainee]);
    expect(events.some(({ type }) => type === 'credited')).toBe(true);
    expect(await page.getByRole('button', { name: /^Play/ }).count()).toBe(0);
  }, 300_000);

  it('see their own only once the instructor sets a passphrase, and are deleted by the instructor', async () => {
    const lee = TraineeSchema.parse(await send('/api/people', { name: 'Lee O.', class: '' }));
    const begun = {
      variants: {},
      style: 'coach',
      engine: 'test',
      startedAt: '2026-01-31T09:30:00Z',
      trainee: lee.id,
    };
    CreatedSchema.parse(await send('/api/rehearsals', { ...begun, skill: 'respirations' }));
    await page.reload();
    await area('Instructor');
    const foreign = page.getByRole('link', { name: /Lee O\./ });
    await foreign.waitFor();
    await page.getByLabel(/^Passphrase, at least/).fill(PASSPHRASE);
    await press('Set the passphrase');
    await page.getByText('You are in the instructor’s area').waitFor();
    expect(await axeFaults(page)).toEqual([]);
    await area('Settings');
    await page.getByLabel(/^Days;/).fill('30');
    await press('Save');
    await page.getByText(/^30 days; then/).waitFor();
    await area('Instructor');
    await press('Leave the instructor’s area');

    const passphrase = page.getByLabel('Passphrase', { exact: true });
    await passphrase.waitFor();
    expect(await axeFaults(page)).toEqual([]);
    await area('Rehearse');
    await page.getByLabel('Who rehearses?').selectOption({ label: 'Kim Q. (Spring)' });
    await page.getByText(/Kim Q\.: sound is not kept/).waitFor();
    await area('Progress');
    await page.getByRole('link', { name: /Kim Q\./ }).waitFor();
    expect(await foreign.count()).toBe(0);
    await area('Settings');
    await page.getByText('The instructor can change it.').waitFor();

    await area('Instructor');
    await passphrase.fill('eight pale lemons');
    await page.keyboard.press('Enter');
    await page.getByText(/This is not the passphrase/).waitFor();
    // The wait after the first wrong one: a second.
    await page.waitForTimeout(1500);
    await passphrase.fill(PASSPHRASE);
    await page.keyboard.press('Enter');
    await foreign.waitFor();
    await press('Delete Kim Q.');
    await press(/^Delete Kim Q\. and all/);
    await expect.poll(() => page.getByText('Kim Q.').count(), SOON).toBe(0);
    expect(PeopleSchema.parse(await get('/api/people')).trainees).toHaveLength(1);
    await press('Take the passphrase away');
    await page.getByText(/No passphrase is set/).waitFor();
    const left = RehearsalsSchema.parse(await get('/api/rehearsals'));
    expect(left.map(({ trainee }) => trainee)).toEqual([lee.id]);
  }, 240_000);
});
