import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { AttemptsReplySchema, RehearsalSchema } from '../../app/host/api.ts';
import type { Host } from '../../app/host/server.ts';
import { ReviewEventSchema, type RehearsalEvent } from '../../app/marking/events.ts';
import { keepRehearsal } from './made/made.ts';
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

type Scheme = 'light' | 'dark';

async function open(address: string, title: RegExp, colorScheme: Scheme = 'light'): Promise<void> {
  page = await browser.newPage({ viewport: { width: 1280, height: 900 }, colorScheme });
  page.setDefaultTimeout(20_000);
  await page.goto(`${host.url}#${address}`);
  await page.getByRole('heading', { level: 1, name: title }).waitFor();
}
const visit = (id: string, scheme?: Scheme): Promise<void> => open(`/review/${id}`, /^Review: /, scheme);

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

/** What axe finds, in the light and in the dark; and nothing is scrolled sideways to on a phone. */
async function look(): Promise<void> {
  expect(await axeFaults(page)).toEqual([]);
  await page.emulateMedia({ colorScheme: 'dark' });
  expect(await axeFaults(page)).toEqual([]);
  await page.setViewportSize({ width: 390, height: 844 });
  expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(390);
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.emulateMedia({ colorScheme: 'light' });
}

/** Follows a link or pushes a button by keyboard. */
async function go(role: 'link' | 'button', name: string | RegExp): Promise<void> {
  await page.getByRole(role, { name }).first().focus();
  await page.keyboard.press('Enter');
}

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

describe('what follows from reviews', () => {
  /** The words that the machine missed, and the second at which they are said in that narration. */
  const [SAID, AT] = ['Just settle back and take it easy for a bit.', 30];

  it('is the agreement, with a missed saying that becomes an example in the editor after a yes', async () => {
    await open('/agreement', /^Agreement/);
    const id = await keepRehearsal(host.url, 'radial-pulse-3-half-minute', '2026-11-27T08:10:00.000Z');
    const by = { by: REVIEWER, madeAt: '2026-11-28T08:00:00.000Z', skill: 0, reason: '', blind: true };
    const events = [
      { type: 'reviewed', ...by, step: 'at-rest', verdict: 'yes', heardAt: AT },
      { type: 'reviewed', ...by, step: 'greet', verdict: 'yes', heardAt: null },
      { type: 'reviewed', ...by, step: 'knock', verdict: 'no', heardAt: null },
    ];
    const headers = { 'content-type': 'application/json' };
    await fetch(`${host.url}api/rehearsals/${id}/review`, { method: 'POST', headers, body: JSON.stringify({ events }) });
    await page.reload();
    await page.getByRole('row', { name: /^All steps/ }).waitFor();
    await page.getByText(/Knock.*credited falsely: 1/).waitFor();
    await look();

    await go('button', `Make it an example: ${SAID}`);
    expect(await axeFaults(page)).toEqual([]);
    await go('button', 'No');
    await go('button', `Make it an example: ${SAID}`);
    await go('button', /^Yes/);
    await page.getByRole('heading', { level: 1, name: /the skill’s file/ }).waitFor();
    await page.getByRole('button', { name: /Have the resident rest quietly/ }).first().click();
    const cues = page.getByLabel('Cues, one a line', { exact: true });
    expect(await cues.inputValue()).toMatch(/\njust settle back and take it easy for a bit$/);
    // Nothing was written: the school's author saves it, or not.
    const { source } = (await (await fetch(`${host.url}api/skills/radial-pulse/source`)).json()) as { source: string };
    expect(source).not.toContain('settle back');
  }, 90_000); // prettier-ignore

  it('is progress by the person’s verdicts: what to practise next and why, each skill closely, the class by name', async () => {
    const id = await keepRehearsal(host.url, 'hand-washing-3-short-scrub', '2026-11-29T08:10:00.000Z');
    await open('/progress', /^Progress$/);
    const worth = page.getByRole('region', { name: 'Worth practising next' });
    await worth.getByText(/A critical step was missed the last time: .*20 seconds/).waitFor();
    await look();
    await go('link', 'Look closer: Hand washing');
    await page.getByRole('heading', { level: 1, name: 'Progress: Hand washing' }).waitFor();
    await page.getByText('At least 20 seconds are needed').waitFor();
    await page.getByText(/of the time with something to say was narrated/).waitFor();
    await page.locator('summary', { hasText: 'As a table' }).first().click();
    await page.getByRole('row', { name: /of \d+ .*not passed/ }).waitFor();
    await look();

    const reply = AttemptsReplySchema.parse(await (await fetch(`${host.url}api/attempts/hand-washing`)).json());
    const { attempts } = reply;
    expect(attempts.map((attempt) => attempt.id)).toContain(id);
    await page.route('**/api/attempts/**', (route) =>
      route.fulfill({
        json: {
          ...reply,
          attempts: ['Ada M.', 'Bo K.'].flatMap((trainee) => attempts.map((each) => ({ ...each, trainee }))),
        },
      }),
    );
    await page.reload();
    await page.getByRole('region', { name: 'The class' }).getByRole('columnheader', { name: 'Bo K.' }).waitFor();
    await page.getByLabel('Whose attempts').selectOption('Bo K.');
    await page.getByText(/1 attempt;/).waitFor();
    await look();
  }, 90_000); // prettier-ignore
});
