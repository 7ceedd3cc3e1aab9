import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { breathe, breathsInMinute } from '../../app/bench/breaths.ts';
import { filledFrom, toNearestMark } from '../../app/bench/container.ts';
import { AT_ZERO, BEAMS, isBalanced, loadFrom, type Poises } from '../../app/bench/scale.ts';
import type { Host } from '../../app/host/server.ts';
import { axeFaults, buildRoom, type BuiltRoom } from './roomInBrowser.ts';

/** Each measure of the bench in a real browser, by keyboard alone. Time is the page's own, moved on where it would be long. */

const SEED = 4711;

let room: BuiltRoom;
let host: Host;
let browser: Browser;
let page: Page;

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

async function visit(seed = SEED, look: Parameters<Browser['newPage']>[0] = {}): Promise<void> {
  page = await browser.newPage({ viewport: { width: 1280, height: 900 }, ...look });
  page.setDefaultTimeout(15_000);
  await page.clock.install();
  await page.goto(`${host.url}#/bench/${seed}`);
  await page.getByRole('heading', { level: 1, name: /The bench/ }).waitFor();
}

const press = (key: string): Promise<void> => page.keyboard.press(key);
const button = (name: string | RegExp) => page.getByRole('button', { name });
/** Does what a button does, by keyboard. */
async function push(name: string | RegExp): Promise<void> {
  await button(name).focus();
  await press('Enter');
}
/** Ticks or unticks a box, or takes a radio button, by keyboard. */
async function tick(name: string | RegExp): Promise<void> {
  await page.getByLabel(name).focus();
  await press('Space');
}
async function choose(measure: string): Promise<void> {
  await tick(new RegExp(`^${measure}`));
  await push('Begin');
  await page.getByRole('heading', { level: 1, name: measure }).waitFor();
}
async function record(...values: readonly string[]): Promise<void> {
  for (const [i, value] of values.entries()) {
    await page.locator('.bench-entry input').nth(i).focus();
    await page.keyboard.type(value);
  }
  await press('Enter');
}
/** Holds the page's time: from here on it passes only as it is told to. */
async function hold(): Promise<void> {
  await page.clock.pauseAt((await page.evaluate(() => Date.now())) + 1000);
}
/** Lets so much time pass at once; what was due meanwhile is done once. */
async function wait(seconds: number): Promise<void> {
  await page.clock.fastForward(1000 * seconds);
  await page.clock.runFor(100);
}
const outcome = () => page.getByRole('heading', { level: 2, name: 'How it was' }).waitFor();
const truth = async (name: string): Promise<string> => {
  await outcome();
  return page.locator(`dl[aria-label="${name}"] dd`).first().innerText();
};
const picture = (): Promise<string | null> => page.locator('.bench-truth').getAttribute('aria-label');

/** What axe finds, in the light and in the dark. */
async function faults(): Promise<string[]> {
  const light = await axeFaults(page);
  await page.emulateMedia({ colorScheme: 'dark' });
  const dark = await axeFaults(page);
  await page.emulateMedia({ colorScheme: 'light' });
  return [...light, ...dark.map((fault) => `dark: ${fault}`)];
}

/** Counts breaths for so long and writes a number down. */
async function countBreaths(seconds: number, number: string): Promise<void> {
  await choose('Respirations');
  await hold();
  await push('Go to the resident');
  await page.clock.runFor(1000);
  await push('Start the count');
  await wait(seconds);
  await push('Stop the count');
  await page.clock.resume();
  await record(number);
  await outcome();
}

describe('respirations', () => {
  it('are counted for a minute by keyboard, and the same seed has the same truth', async () => {
    const seen: string[] = [];
    for (let again = 0; again < 2; again++) {
      await visit();
      await countBreaths(60, '16');
      expect(await picture()).toMatch(/You counted for 60 seconds/);
      expect(await page.getByText(/You stopped early|longer than a minute/).count()).toBe(0);
      seen.push(await truth('Respirations'));
      if (again === 0) await page.close();
    }
    expect(seen[1]).toBe(seen[0]);
    // The count began a second after the resident was met, but for the picture before it.
    expect(seen[0]).toBe(`${breathsInMinute(breathe(SEED, 'even', 120), 0.99)} breaths`);
  }, 60_000);

  it('counted for less than a minute are said to be, and shown', async () => {
    await visit();
    await countBreaths(30, '8');
    await page.getByText(/You stopped early/).waitFor();
    expect(await picture()).toMatch(/You counted for 30 seconds/);
    expect(await faults()).toEqual([]);
  }, 60_000);
});

describe('the pulse', () => {
  it('is felt while the spot is held, and half a minute where it is not allowed is said', async () => {
    await visit();
    await choose('Pulse at the wrist');
    await push('Go to the resident');
    await page.clock.runFor(500);
    await button('thumb side').focus();
    await page.keyboard.down('Space');
    expect(await button('thumb side').getAttribute('aria-pressed')).toBe('true');
    await page.keyboard.up('Space');
    expect(await button('thumb side').getAttribute('aria-pressed')).toBe('false');
    await tick('Keep them there without holding');
    await button('thumb side').focus();
    await press('Space');
    expect(await button('thumb side').getAttribute('aria-pressed')).toBe('true');
    expect(await faults()).toEqual([]);
    await hold();
    await push('Start the count');
    await wait(30);
    await push('Stop the count');
    await page.clock.resume();
    await record('72');
    await page.getByText(/You counted half a minute. Here the full minute is asked for./).waitFor();
    expect(await truth('Pulse')).toMatch(/^\d+ beats a minute$/);
  }, 60_000);
});

describe('blood pressure', () => {
  it('is taken by arrow keys: pumped up, let down, written down, and its sounds are shown', async () => {
    await visit();
    await choose('Blood pressure');
    await tick('30 cm');
    expect(await faults()).toEqual([]);
    await hold();
    await push('Put the cuff on');
    await tick('listen with the stethoscope');
    await button(/Squeeze the bulb/).focus();
    for (let n = 0; n < 40; n++) {
      await press('ArrowUp');
      await page.clock.runFor(150);
    }
    // To 2.5 mmHg a second: the third notch of the valve.
    for (let n = 0; n < 3; n++) await press('ArrowRight');
    await page.getByText('The valve is open by 3 of 7.').waitFor();
    for (let n = 0; n < 9; n++) await wait(10);
    await press('ArrowDown');
    await page.getByText('The valve is all the way open.').waitFor();
    await wait(3);
    await push('I have both numbers');
    await page.clock.resume();
    await record('120', '80');
    const upper = await truth('Upper number');
    const lower = await truth('Lower number');
    expect(await picture()).toContain(`first sound at ${parseInt(upper)}, last sound at ${parseInt(lower)}`);
    await page.getByText(/You let it down at 2\.[4-6] mmHg a second/).waitFor();
    expect(await faults()).toEqual([]);
  }, 90_000);
});

describe('urine output', () => {
  it('is read at eye level, and an odd number is asked about', async () => {
    await visit();
    await choose('Urine output');
    await page.getByText('You look down from above.').waitFor();
    expect(await faults()).toEqual([]);
    await push('Go to eye level');
    await page.getByText('You look at eye level.').waitFor();
    const volume = toNearestMark(filledFrom(SEED));
    await record(String(volume + 1));
    await page.getByText(/there is no mark for/).waitFor();
    await page.locator('.bench-entry input').focus();
    await press('ControlOrMeta+a');
    await record(String(volume));
    expect(await truth('Urine output')).toBe(`${volume} mL`);
    await page.getByText('exact').waitFor();
  }, 60_000);
});

describe('standing weight', () => {
  it('is balanced by keyboard: zero, large poise, small poise', async () => {
    await visit();
    await choose('Standing weight');
    const beam = BEAMS.pounds;
    const { weight, offZero } = loadFrom(SEED, beam);
    const turns = Math.round(offZero / beam.mark);
    for (let n = 0; n < Math.abs(turns); n++) await push(turns > 0 ? 'Nut: lighter' : 'Nut: heavier');
    expect(isBalanced(beam, offZero - turns * beam.mark)).toBe(true);
    await push('Resident steps on');
    const poises: Poises = { ...AT_ZERO, large: Math.floor(weight / beam.notch) };
    const small = Math.round((weight - poises.large * beam.notch) / beam.mark);
    for (let n = 0; n < poises.large; n++) await push('Large poise on');
    for (let n = 0; n < Math.floor(small / 10); n++) await push('Small: far on');
    for (let n = 0; n < small % 10; n++) await push('Small: on');
    await page.clock.runFor(3000);
    expect(await faults()).toEqual([]);
    await record(String(weight));
    expect(await truth('Weight')).toBe(`${weight} lb`);
    expect(await page.getByText(/did not balance|did not stand at zero/).count()).toBe(0);
  }, 60_000);
});

describe('the bench', () => {
  it('moves less where the system asks for it: the chest keeps its place, the second hand steps', async () => {
    await visit(SEED, { reducedMotion: 'reduce' });
    expect(await page.getByLabel('Less movement').isDisabled()).toBe(true);
    await choose('Respirations');
    await push('Go to the resident');
    const moving = (): Promise<string> =>
      page.evaluate(
        `[...document.querySelectorAll('.bench-stage [d], .bench-stage [transform]')].map((part) => part.getAttribute('d') + part.getAttribute('transform')).join()`,
      );
    await hold();
    await page.clock.runFor(1100);
    const before = await moving();
    await page.clock.runFor(500);
    expect(await moving()).toBe(before);
    await page.clock.runFor(1000);
    expect(await moving()).not.toBe(before);
  }, 60_000);

  it('has no fault that axe can find, and fits a phone, in each measure', async () => {
    await visit();
    expect(await faults()).toEqual([]);
    await page.setViewportSize({ width: 390, height: 844 });
    const fits = async (): Promise<void> =>
      expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(390);
    await fits();
    for (const measure of ['Respirations', 'Pulse', 'Blood pressure', 'Urine output', 'Standing weight']) {
      await tick(new RegExp(`^${measure}`));
      await push('Begin');
      await fits();
      const start = button(/Go to the resident|Put the cuff on/);
      if ((await start.count()) > 0) await push(/Go to the resident|Put the cuff on/);
      await fits();
      await push('Measure something else');
    }
  }, 60_000);
});
