import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { RehearsalSchema } from '../../app/host/api.ts';
import type { Host } from '../../app/host/server.ts';
import { openLibrary, shelfOf } from '../../app/library/library.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { lookBackOn } from '../../app/marking/simulated.ts';
import { BEFORE, fold } from '../../app/marking/state.ts';
import { markTest } from '../../app/run/mockTest.ts';
import { foldRun, NO_RUN } from '../../app/run/runState.ts';
import { planOf } from '../../app/run/testPlan.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { DEFAULT_SETTINGS } from '../../app/settings/settings.ts';
import type { Line } from '../speech/narration.ts';
import { synthesize } from '../speech/synthesize.ts';
import { inTest, measureScript, whole } from './bench/measures.ts';
import { hearQuickly } from './made/quickMicrophone.ts';
import { axeFaults, buildRoom, openSkill, type BuiltRoom } from './roomInBrowser.ts';

/**
 * A simulated resident's breaths counted by voice, through the real recogniser, at more than real speed (`quickMicrophone.ts`). At real
 * speed, through the browser's own microphone, and for all measures: `npm run bench:measures`.
 */

let room: BuiltRoom;
let host: Host;
let browser: Browser;
let page: Page;

beforeAll(async () => {
  room = await buildRoom();
  host = await room.host();
  browser = await room.browser('/dev/null', 'round');
}, 120_000);
afterEach(() => page.close());
afterAll(async () => {
  await browser.close();
  await host.close();
  await room.remove();
});

/** Opens the program with a microphone that will hear these lines. */
async function open(lines: readonly Line[], seed: number): Promise<void> {
  await fetch(`${host.url}api/settings`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ ...DEFAULT_SETTINGS, resident: { ...DEFAULT_SETTINGS.resident, seed } }),
  });
  const { samples } = await synthesize({ id: 'resident', lines: [...lines] }, 'joe');
  page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  await hearQuickly(page, samples);
  await page.goto(host.url);
}

/** The resident is there while they count, and nothing tells the time in digits. */
async function counts(): Promise<void> {
  await page
    .getByRole('img', { name: 'A resident in bed, breathing under a blanket' })
    .waitFor({ timeout: 150_000 });
  await page.getByRole('img', { name: 'A clock with a second hand', exact: true }).waitFor();
  expect(await page.getByRole('timer').count()).toBe(0);
}

async function latest() {
  const [summary] = (await (await fetch(`${host.url}api/rehearsals`)).json()) as { id: string }[];
  return RehearsalSchema.parse(await (await fetch(`${host.url}api/rehearsals/${summary!.id}`)).json()); // one was kept
}

it('counts breaths of a resident and records their number', async () => {
  const { skill, seed, lines } = measureScript('respirations', 'right');
  await open(whole(lines), seed);
  await openSkill(page, /Counting respirations/);
  await page.getByRole('button', { name: 'Start the rehearsal' }).click();
  await counts();
  await page.getByRole('heading', { level: 1, name: /how it went/ }).waitFor({ timeout: 150_000 });

  const { events } = await latest();
  const { skills, lexicon, rules } = await openLibrary();
  const checklist = makeChecklist(skills.get(skill)!, lexicon, rules); // it comes with the program
  const state = events.reduce(fold, BEFORE);
  const said = state.utterances.map(({ text }) => text).join('\n');
  const back = lookBackOn(checklist, state);
  expect(back?.resident, said).toMatchObject({ measure: 'respirations', seed });
  expect(back?.readings[0]?.truth, said).toBeGreaterThanOrEqual(11);
  expect(back?.readings[0]?.truth).toBeLessThanOrEqual(12);
  expect(back?.remarks, said).toEqual([]);
  const { steps } = markRehearsal(checklist, state);
  const outcome = (id: string) => steps.find((step) => step.id === id)?.outcome;
  expect([outcome('count'), outcome('record')], said).toEqual(['heard', 'heard']);

  const result = page.getByRole('region', { name: 'The simulated resident' });
  await result.getByText(/Within 2 breaths/).waitFor();
  await result.getByRole('img', { name: /breaths began in the 60 seconds/ }).waitFor();
  expect(await axeFaults(page)).toEqual([]);
}, 400_000);

it('has the resident in a mock test, which tells nothing before its end', async () => {
  const { seed, lines } = measureScript('respirations', 'wrong');
  await open(inTest(lines), seed);
  await page.getByRole('link', { name: 'Mock test', exact: true }).click();
  await page.getByText('Picked by hand').click();
  await page.getByRole('checkbox', { name: 'Hand washing' }).check();
  await page.getByRole('checkbox', { name: /Counting respirations/ }).check();
  await page.getByRole('radio', { name: /^Larkfield test rule/ }).check();
  await page.getByRole('button', { name: 'Take these skills' }).click();
  await page.getByRole('button', { name: 'Start the mock test' }).click();
  await counts();
  expect(await page.getByText(/the truth/).count()).toBe(0);
  await page.getByRole('heading', { level: 1, name: /Mock test: how it went/ }).waitFor({ timeout: 150_000 });

  const { events } = await latest();
  const test = events.reduce(foldRun, NO_RUN);
  const said = test.runs.flatMap(({ state }) => state.utterances.map(({ text }) => text)).join('\n');
  const plan = planOf(shelfOf(await openLibrary()), test.drawn!); // a test was drawn
  const [, breaths] = markTest(plan.checklists, plan.rules, test).skills;
  const record = breaths?.steps.find(({ id }) => id === 'record');
  expect(record?.outcome, `${said}\n${record?.note}`).toBe('not heard');
  expect(breaths?.readings[0]?.truth, said).toBeGreaterThanOrEqual(11);
  await page.locator('summary', { hasText: 'Counting respirations' }).click();
  await page.getByRole('button', { name: /^Look closer: Counting respirations/ }).click();
  await page
    .getByRole('region', { name: 'The simulated resident' })
    .getByText(/Off by more than 2 breaths/)
    .waitFor();
}, 400_000);
