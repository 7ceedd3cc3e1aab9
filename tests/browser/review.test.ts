import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { RehearsalSchema } from '../../app/host/api.ts';
import type { Host } from '../../app/host/server.ts';
import { ReviewEventSchema, type RehearsalEvent } from '../../app/marking/events.ts';
import { keepRehearsal } from './made.ts';
import { axeFaults, buildRoom, type BuiltRoom } from './roomInBrowser.ts';

/** A made rehearsal with sound, reviewed through the real host by keyboard alone. */

const REVIEWER = 'R. Ortega';
/** More keys than this, and a reviewer needs more than a minute of them: one a second. Common practice, no source. */
const MOST_KEYS = 60;

let room: BuiltRoom;
let host: Host;
let browser: Browser;
let page: Page;
let keys = 0;

beforeAll(async () => {
  room = await buildRoom();
  host = await room.host();
  browser = await room.browser('/dev/null', 'once');
}, 120_000);
afterAll(async () => {
  await browser.close();
  await host.close();
  await room.remove();
});
afterEach(() => page.close());

async function visit(id: string, colorScheme: 'light' | 'dark' = 'light', width = 1280): Promise<void> {
  page = await browser.newPage({ viewport: { width, height: 900 }, colorScheme });
  page.setDefaultTimeout(20_000);
  await page.goto(`${host.url}#/review/${id}`);
  await page.getByRole('heading', { level: 1, name: /^Review: / }).waitFor();
}

/** Says who reviews, as it is said once on a machine. */
async function introduce(): Promise<void> {
  await page.getByLabel('Who reviews').focus();
  await page.keyboard.insertText(REVIEWER);
  await page.keyboard.press('Enter');
  await page.getByRole('region', { name: 'Steps' }).waitFor();
}

/** Presses keys one after the other, and counts them: written words letter by letter, too. */
async function press(...some: readonly string[]): Promise<void> {
  for (const key of some) await page.keyboard.press(key);
  keys += some.length;
}

const kept = async (id: string): Promise<readonly RehearsalEvent[]> =>
  RehearsalSchema.parse(await (await fetch(`${host.url}api/rehearsals/${id}`)).json()).events;
const ofReview = (events: readonly RehearsalEvent[]): RehearsalEvent[] =>
  events.filter((event) => ReviewEventSchema.safeParse(event).success);
const slider = () => page.getByRole('slider', { name: 'Moment of the recording' });
const moment = async (): Promise<number> => Number(await slider().inputValue());
const openStep = (): Promise<string> => page.locator('[aria-current=step]').innerText();
/** What each step's row says: its text, the machine's mark, the person's verdict. */
const rows = (): Promise<string[]> => page.locator('.side-by-side tbody tr').allInnerTexts();

describe('a review', () => {
  it('is done by keyboard in few keys, stands beside the machine’s marks, and is there again after a reload', async () => {
    const id = await keepRehearsal(host.url, 'radial-pulse-3-half-minute', '2026-11-24T08:10:00.000Z');
    const before = await kept(id);
    await visit(id);
    await introduce();
    const steps = (await rows()).length;
    expect(steps).toBeGreaterThanOrEqual(20);
    keys = 0;

    // Play, stop, back three seconds.
    await press('Space');
    await vi.waitFor(async () => expect(await moment()).toBeGreaterThanOrEqual(5), { timeout: 20_000 });
    await press('Space');
    const stopped = await moment();
    await page.waitForTimeout(1200);
    expect(await moment()).toBe(stopped);
    await press('ArrowLeft');
    expect(stopped - (await moment())).toBe(3);

    // To the next mark and back, and a comment at this moment.
    const first = await openStep();
    await press('ArrowDown');
    expect(await openStep()).not.toBe(first);
    await press('ArrowUp');
    expect(await openStep()).toBe(first);
    await press('c', ...'loud', 'Enter');
    await page.getByRole('region', { name: 'Comments' }).getByText(`loud ${REVIEWER}`).waitFor();

    // A verdict for each step; the one that was cut short with a reason, the reading with its truth.
    for (let n = 0; n < steps; n++) {
      const step = await openStep();
      if (/Write down/.test(step)) await press('m', ...'71', 'Enter');
      if (/full minute/.test(step)) await press('r', ...'30 s', 'Enter', 'n');
      else await press('y');
    }
    await press('s');
    await page.getByText(`Signed off by ${REVIEWER}`).waitFor();
    expect(keys).toBeLessThan(MOST_KEYS);

    // The machine's side is as it was; the person's follows it in the same journal.
    await vi.waitFor(async () => expect((await kept(id)).at(-1)?.type).toBe('signed off'));
    const after = await kept(id);
    expect(after.slice(0, before.length)).toEqual(before);
    const said = ofReview(after);
    expect(said).toHaveLength(after.length - before.length);
    const number = (type: string): number => said.filter((event) => event.type === type).length;
    expect([number('reviewed'), number('measured'), number('commented')]).toEqual([steps, 1, 1]);

    const shown = await rows();
    await page.reload();
    await page.getByText(`Signed off by ${REVIEWER}`).waitFor();
    expect(await rows()).toEqual(shown);
    expect(shown.filter((row) => /needs eyes\s+yes/.test(row))).toHaveLength(1);
    await page.getByRole('button', { name: /full minute/ }).click();
    await page.getByText('“30 s”').waitFor();
    await page.getByRole('button', { name: /Write down/ }).click();
    expect(await page.getByLabel(/What you measured, in beats a minute/).inputValue()).toBe('71');
    await page.getByText(/Measured: 71/).waitFor();

    // What is changed afterwards takes the signature back.
    await page.getByRole('region', { name: 'Steps' }).focus();
    await press('n');
    await page.getByText('A change takes the signature back').waitFor({ state: 'detached' });
  }, 120_000);

  it('hides the machine’s marks where that is wanted, and takes no signature while steps are open', async () => {
    const id = await keepRehearsal(host.url, 'respirations-1-all', '2026-11-25T08:10:00.000Z');
    await visit(id);
    await introduce();
    await page.getByLabel('Hide the machine’s marks').focus();
    await press('Space');
    expect((await rows()).every((row) => /hidden|needs eyes/.test(row))).toBe(true);
    await page.getByRole('region', { name: 'Steps' }).focus();
    await press('y', 's');
    expect((await rows())[0]).toMatch(/heard\s+yes/);
    await page.getByText(/^Not signed: \d+ steps have no verdict yet\.$/).first().waitFor(); // prettier-ignore
    await vi.waitFor(async () => expect(ofReview(await kept(id))).toMatchObject([{ verdict: 'yes', blind: true }]));
  }, 60_000); // prettier-ignore

  it('of a rehearsal that is still going on is refused in words, and nothing is lost on the page', async () => {
    const id = await keepRehearsal(host.url, 'respirations-1-all', new Date().toISOString(), 6);
    const before = await kept(id);
    await visit(id);
    await introduce();
    await press('y');
    const alert = page.getByRole('alert').filter({ hasText: 'Not kept yet' });
    await alert.getByText(/End it there first/).waitFor();
    expect((await rows())[0]).toMatch(/yes$/);
    expect(await kept(id)).toEqual(before);
  }, 60_000);

  it.each(['light', 'dark'] as const)('has no fault that axe can find, and fits a phone: %s', async (scheme) => {
    const id = await keepRehearsal(host.url, 'radial-pulse-1-all', '2026-11-26T08:10:00.000Z');
    await visit(id, scheme);
    expect(await axeFaults(page)).toEqual([]);
    await introduce();
    await page.locator('summary', { hasText: 'Keys' }).click();
    await press('y', 'c');
    await page.getByRole('textbox', { name: /Comment at/ }).waitFor();
    expect(await axeFaults(page)).toEqual([]);
    for (const width of [1280, 1024, 390]) {
      await page.setViewportSize({ width, height: 844 });
      expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(width);
    }
    expect(await axeFaults(page)).toEqual([]);
  }, 60_000); // prettier-ignore
});
