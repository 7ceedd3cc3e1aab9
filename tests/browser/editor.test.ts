import { readFile } from 'node:fs/promises';
import path from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { CreatedSchema, WRITER_HEADER } from '../../app/host/api.ts';
import type { Host } from '../../app/host/server.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { utteranceOf } from '../../app/language/utterance.ts';
import { axeFaults, buildRoom, speakForRounds, type BuiltRoom } from './roomInBrowser.ts';

let room: BuiltRoom;
let host: Host | undefined;
let browser: Browser | undefined;
let page: Page;
let asked: string[] = [];
let blocked: string[] = [];

beforeAll(async () => {
  room = await buildRoom();
  const sound = await speakForRounds(room.folder, 'I am washing my hands now.');
  host = await room.host();
  browser = await room.browser(sound, 'round');
}, 120_000);

afterAll(async () => {
  await browser?.close();
  await host?.close();
  await room.remove();
});

async function visit(scheme: 'light' | 'dark', viewport = { width: 1280, height: 900 }): Promise<void> {
  page = await browser!.newPage({ viewport, colorScheme: scheme });
  // Others may keep both cores busy.
  page.setDefaultTimeout(15_000);
  [asked, blocked] = [[], []];
  page.on('console', (message) => {
    if (message.text().includes('Content Security Policy')) blocked.push(message.text());
  });
  page.on('request', (request) => asked.push(request.url()));
  await page.goto(host!.url);
  await link('Skills').waitFor();
}

afterEach(async () => {
  const foreign = asked.filter((url) => !/^(data:|blob:)/.test(url) && !url.startsWith(host!.url));
  await page.close();
  expect(foreign).toEqual([]);
  // The page does nothing that its own policy forbids: the text editor's styles among it.
  expect(blocked).toEqual([]);
});

const faults = (): Promise<string[]> => axeFaults(page);

const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const link = (name: string | RegExp) => page.getByRole('link', { name, exact: true });
const field = (name: string) => page.getByLabel(name, { exact: true });
const press = (key: string): Promise<void> => page.keyboard.press(key);
/** Does what a button does, by keyboard. */
const push = async (name: string | RegExp): Promise<void> => {
  await button(name).focus();
  await press('Enter');
};
/** Goes where a link leads, by keyboard. */
const follow = async (name: string | RegExp): Promise<void> => {
  await link(name).focus();
  await press('Enter');
};
const write = async (name: string, text: string): Promise<void> => {
  await field(name).focus();
  await press('ControlOrMeta+a');
  await page.keyboard.insertText(text);
};
const text = () => page.getByRole('textbox', { name: 'The file (YAML)' });
/** The file as the text editor shows it; it draws all lines of a short one. */
const file = async (): Promise<string> => (await page.locator('.cm-line').allTextContents()).join('\n');
const typing = (): Promise<boolean> => text().evaluate((it) => it.matches(':focus'));
/** The numbers of the lines that carry a sign beside them. */
const signed = (sign: string): Promise<string[]> =>
  page.locator('.cm-gutters').evaluate((gutters, kind) => {
    const top = (element: Element): number => Math.round(element.getBoundingClientRect().top);
    const tops = [...gutters.querySelectorAll(kind)].map((it) => top(it.closest('.cm-gutterElement') ?? it));
    const numbers = [...gutters.querySelectorAll('.cm-lineNumbers .cm-gutterElement')];
    return numbers.filter((it) => tops.includes(top(it))).map((it) => it.textContent ?? '');
  }, sign);
/** Replaces a word of the file, found by the editor's own search. */
const overwrite = async (old: string, next: string): Promise<void> => {
  await text().focus();
  await press('ControlOrMeta+f');
  await page.keyboard.type(old);
  await press('Enter');
  await press('Escape');
  await page.keyboard.insertText(next);
};
const shot = (name: string): Promise<unknown> =>
  process.env['SHOTS']
    ? page.screenshot({ path: path.join(process.env['SHOTS'], `${name}.png`), fullPage: true })
    : Promise.resolve();

describe('writing a skill', () => {
  it('goes by keyboard, shows an edit on both sides, and what is written credits what is said', async () => {
    await visit('light');
    await follow('Skills');
    await page.getByRole('heading', { level: 1, name: 'Skills' }).waitFor();
    expect(await page.evaluate('document.activeElement?.tagName')).toBe('H1');
    await link(/Hand washing/).waitFor();
    expect(await faults()).toEqual([]);
    await shot('skills');
    await write('A new skill: its title', 'Watering flowers');
    await press('Enter');

    await page.getByText('No faults').waitFor();
    expect(await faults()).toEqual([]);
    // From the form to the text.
    await push('4. Say here what is marked');
    await write('What is marked', 'Water the flowers');
    await write('Cues, one a line', 'i {sprinkle} the flowers\nthe flowers get water');
    expect(await file()).toContain('    text: Water the flowers\n    cues:\n      - "i {sprinkle} the flowers"\n      - "the flowers get water"\n');
    await page.getByText('unknown slot {sprinkle}').waitFor();
    const line = String((await file()).split('\n').findIndex((each) => each.includes('sprinkle')) + 1);
    expect(await signed('.cm-lint-marker-error')).toEqual([line]);
    expect(await page.locator('.cm-lintRange-error').allTextContents()).toEqual(['"i {sprinkle} the flowers"']);
    await push(`Line ${line}`);
    expect(await typing()).toBe(true);
    expect(await page.locator('.cm-activeLineGutter').allTextContents()).toContain(line);
    await page.getByLabel('Critical: missing it fails the skill').focus();
    await press('Space');
    expect(await faults()).toEqual([]);
    await page.emulateMedia({ colorScheme: 'dark' });
    expect(await faults()).toEqual([]);
    await page.emulateMedia({ colorScheme: 'light' });
    await shot('editor-fault');
    // From the text to the form.
    await overwrite('{sprinkle}', 'water');
    await page.getByText('unknown slot').waitFor({ state: 'detached' });
    expect(await field('Cues, one a line').inputValue()).toBe('i water the flowers\nthe flowers get water');
    await write('What a trainee may say', 'Now I water the flowers.');
    // The first sentence opens the judge's network in the host.
    await page.getByText('Credited:').waitFor({ timeout: 60_000 });
    await page.getByText('i water the flowers', { exact: true }).waitFor();
    expect(await faults()).toEqual([]);
    await shot('editor-light');
    await write('What a trainee may say', 'I look at the flowers.');
    await page.getByText('It credits no step.').waitFor();
    await page.getByText('lacking').first().waitFor();

    // Said instead of written.
    // Said again where a busy machine did not hear it in time.
    const say = async (): Promise<void> => {
      await push('Say it instead');
      await page.getByText('Wash your hands afterwards').nth(1).waitFor({ timeout: 40_000 });
    };
    await vi.waitFor(say, { timeout: 120_000 });
    expect(await field('What a trainee may say').inputValue()).toMatch(/hands/i);

    // Order, by keyboard and by mouse.
    await push('Move first-step down');
    expect((await file()).indexOf('use: call-light')).toBeLessThan((await file()).indexOf('id: first-step'));
    expect(await page.evaluate('document.activeElement?.ariaLabel')).toBe('Move first-step down');
    await press('Enter');
    expect(await page.evaluate('document.activeElement?.ariaLabel')).toBe('Move first-step up');
    await button(/^6\. Water the flowers/).dragTo(button(/^1\. /));
    await button(/^1\. Water the flowers/).waitFor();
    await page.getByRole('combobox', { name: 'Must come before' }).selectOption('greet');
    expect(await file()).toContain('before:\n      - greet\n'.replace('\n      - greet', ' [ greet ]'));

    // A window that is closed loses nothing.
    await page.reload();
    await follow('Skills');
    await follow('watering-flowers Begun and not saved yet');
    await button(/^1\. Water the flowers/).waitFor();
    await push('Save');
    await page.getByText('Saved as version 1').waitFor();
    await push(/^1\. Water the flowers/);
    await write('Cues, one a line', 'i pour water on the flowers\nthe flowers get water');
    await push('Save');
    await page.getByText('make it version 2').waitFor();
    expect(await faults()).toEqual([]);
    await write('Version', '2');
    await write('What this version changes', 'Says pour.');
    await push('Back to the skills');
    await page.getByText('What you wrote is not saved.').waitFor();
    await push('Stay here');
    await push('Save');
    await page.getByText('Saved as version 2').waitFor();
    await page.getByRole('combobox', { name: 'Bring an earlier version back' }).selectOption('1');
    await vi.waitFor(async () => expect(await file()).toContain('version: 3'), { timeout: 10_000 });
    expect(await file()).toContain('i water the flowers');
    await push('Back to the skills');
    await push('Leave without saving');
    await page.getByText('Version 2, your own').waitFor();
    await follow('Rehearse');
    await link(/Watering flowers/).waitFor();
  }, 240_000); // prettier-ignore

  it('is an editor of its own: styled, searched, undone, and left by Tab', async () => {
    await visit('light');
    await follow('Skills');
    await write('A new skill: its title', 'Folding towels');
    await press('Enter');
    await page.getByText('No faults').waitFor();
    // Its styles are in force under the policy of the host (app/host/guard.ts).
    expect(await page.locator('.cm-gutters').evaluate((it) => getComputedStyle(it).display)).toBe('flex');
    const colour = (word: string): Promise<string> =>
      page.locator('.cm-line span', { hasText: word }).first().evaluate((it) => getComputedStyle(it).color);
    expect(await colour('schema')).not.toBe(await colour('# Folding'));

    // What is typed is undone and done again, wherever it was typed.
    const before = await file();
    await push('4. Say here what is marked');
    await field('What is marked').focus();
    await press('End');
    await page.keyboard.type(' twice');
    await overwrite('a second way to say it', 'once more');
    const after = await file();
    expect(after).toContain('Say here what is marked twice');
    expect(after).toContain('- "once more"\n');
    const all = async (name: string): Promise<void> => {
      while (await button(name).isEnabled()) await push(name);
    };
    await all('Undo');
    expect(await file()).toBe(before);
    expect(await field('What is marked').inputValue()).toBe('Say here what is marked');
    await all('Redo');
    expect(await file()).toBe(after);
    await text().focus();
    await press('ControlOrMeta+z');
    expect(await file()).toContain('a second way to say it');

    // Nobody is caught in it, nor in its search (WCAG 2.2, 2.1.2).
    await press('ControlOrMeta+f');
    await page.getByRole('textbox', { name: 'Find' }).waitFor();
    expect(await faults()).toEqual([]);
    await shot('editor-search');
    await press('Escape');
    expect(await typing()).toBe(true);
    await press('Tab');
    expect(await typing()).toBe(false);
    expect(await file()).not.toContain('\t');
    await press('Shift+Tab');
    expect(await typing()).toBe(true);

    // A warning stands at its line, too, and the list leads there.
    await page.getByLabel('Critical: missing it fails the skill').focus();
    await press('Space');
    await write('Cues, one a line', 'i fold the towel in three');
    await page.getByText(/1 warning:/).waitFor();
    const [line] = await signed('.cm-lint-marker-warning');
    await push(`Line ${line}`);
    expect(await typing()).toBe(true);
    expect(await page.locator('.cm-activeLineGutter').allTextContents()).toContain(line);
    await text().evaluate((it) => (it as HTMLElement).blur());
    await text().focus();
    await press('ControlOrMeta+Home');
    await press('F8');
    expect(await page.locator('.cm-activeLineGutter').allTextContents()).toContain(line);

    // On a phone all of it stays within the screen.
    await page.setViewportSize({ width: 390, height: 844 });
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(390);
    expect(await faults()).toEqual([]);
    await shot('editor-phone');
    await push('Back to the skills');
    await push('Leave without saving');
  }, 120_000); // prettier-ignore

  it('takes skills elsewhere and in again, in the dark too', async () => {
    await visit('dark');
    await follow('Skills');
    await field('Choose Watering flowers').focus();
    await press('Space');
    const [download] = await Promise.all([page.waitForEvent('download'), push(/Write the chosen ones/)]);
    const pack = await readFile(await download.path(), 'utf8');
    const older = pack.replace('version: 2', 'version: 1').replace('i pour water', 'i bring water');
    const give = (text: string): Promise<void> =>
      field('A file of skills').setInputFiles({ name: 'x.json', mimeType: 'application/json', buffer: Buffer.from(text) });
    await give('{');
    await page.getByText('Nothing was taken in:').waitFor();
    await give(older);
    await page.getByText('version 2 is here already').waitFor();
    expect(await faults()).toEqual([]);
    await give(pack);
    await page.getByText('Taken in: watering-flowers.').waitFor();
    await follow(/Watering flowers/);
    await page.getByText(/No faults/).waitFor();
    await push(/^1\. Water/);
    expect(await faults()).toEqual([]);
    await shot('editor-dark');
  }, 60_000); // prettier-ignore
});

describe('a rehearsal of an earlier version', () => {
  it('says which, and is marked again under another', async () => {
    const post = async (where: string, body: unknown, writer = ''): Promise<unknown> =>
      (
        await fetch(new URL(where, host!.url), {
          method: 'POST',
          headers: { 'content-type': 'application/json', [WRITER_HEADER]: writer },
          body: JSON.stringify(body),
        })
      ).json();
    const begun = { skill: 'watering-flowers', version: 1, variants: {}, style: 'coach', engine: 'test', startedAt: '2026-01-31T09:30:00Z' };
    const { id, writer } = CreatedSchema.parse(await post('/api/rehearsals', begun));
    const utterance = utteranceOf({ id: 0, text: 'I pour water on the flowers.', start: 1, end: 3 });
    const events: RehearsalEvent[] = [
      { type: 'began', skill: 'watering-flowers', variants: {} },
      { type: 'heard', utterance, used: [] },
      { type: 'ended', at: 9 },
    ];
    await post(`/api/rehearsals/${id}/events`, { from: 0, events }, writer);
    await visit('light');
    await follow('Progress');
    await follow(/Watering flowers.*version 1/);
    await page.getByText('Marked under version 1 of the skill.').waitFor();
    await push('Mark again under version 2');
    await page.getByRole('row', { name: /Water the flowers critical not heard heard/ }).waitFor();
    expect(await faults()).toEqual([]);
    await shot('again');
  }, 60_000); // prettier-ignore
});
