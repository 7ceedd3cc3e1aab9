import path from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { RehearsalSchema } from '../../../app/host/api.ts';
import type { Host } from '../../../app/host/server.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { openLibrary, shelfOf } from '../../../app/library/library.ts';
import { markTest } from '../../../app/run/mockTest.ts';
import { foldRun, NO_RUN } from '../../../app/run/runState.ts';
import { planOf } from '../../../app/run/testPlan.ts';
import { EXPECTED, FIVE, speakFiveSkills, summaryOf, type FiveSkills } from '../../speech/fiveSkills.ts';
import { concatenate, writeWav } from '../../speech/sound.ts';
import { buildRoom, type BuiltRoom } from '../roomInBrowser.ts';

/** A whole mock test of five skills, live: the trainee touches nothing from its start to its end. */

let room: BuiltRoom;
let host: Host;
let browser: Browser;
let five: FiveSkills;

beforeAll(async () => {
  room = await buildRoom();
  five = await speakFiveSkills(room.folder);
  host = await room.host(0, five.skills);
  const sound = path.join(room.folder, 'test.wav');
  // The browser plays it from the moment it is asked for the microphone, before anything listens.
  await writeWav(sound, concatenate([new Float32Array(3 * SAMPLE_RATE), five.spoken.samples]));
  browser = await room.browser(sound, 'once');
}, 180_000);
afterAll(async () => {
  await browser.close();
  await host.close();
  await room.remove();
});

it('goes through five skills by voice, and shows what was put right, too late, missed and cut off by the time', async () => {
  const library = await openLibrary(five.skills);
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  await page.goto(host.url);
  await page.getByRole('link', { name: 'Mock test', exact: true }).click();
  await page.getByText('Picked by hand').click();
  for (const id of FIVE) await page.getByRole('checkbox', { name: library.skills.get(id)!.title }).check();
  await page.getByRole('radio', { name: /Cut short/ }).check();
  await page.getByRole('button', { name: 'Take these skills' }).click();
  await page.getByRole('button', { name: 'Start the mock test' }).click();

  await page.getByText('Skill 1 of 5', { exact: true }).waitFor({ timeout: 60_000 });
  await page.getByText('Skill 5 of 5', { exact: true }).waitFor({ timeout: 180_000 });
  // Nothing is told of how it goes.
  expect(await page.getByRole('list', { name: 'Steps' }).count()).toBe(0);
  await page.getByRole('heading', { level: 1, name: /Mock test: how it went/ }).waitFor({ timeout: 90_000 });
  await page.getByText(/0 of 5 skills passed, 5 needed; the time was up at/).waitFor();
  const folded = page.locator('summary');
  for (const each of await folded.all()) await each.click();
  await page.getByText(/Put right at .*Wet hands/).waitFor();
  await page.getByText(/Too late at .*fingernails/).waitFor();
  await page.getByRole('button', { name: 'Look closer: Hand washing' }).click();
  await page.getByRole('heading', { level: 1, name: /Hand washing: how it went/ }).waitFor();
  for (const each of await folded.all()) await each.click();
  await page
    .getByText(/Put right in a correction/)
    .first()
    .waitFor();
  await page
    .getByRole('button', { name: /^Play: Rub every surface/ })
    .first()
    .waitFor();
  await page.getByRole('button', { name: 'Back to the test' }).click();
  await page.getByRole('heading', { level: 1, name: /Mock test: how it went/ }).waitFor();

  const [summary] = (await (await fetch(`${host.url}api/rehearsals`)).json()) as {
    id: string;
    state: string;
  }[];
  expect(summary).toMatchObject({ title: 'Mock test: picked by hand', state: 'ended', passed: false });
  const kept = RehearsalSchema.parse(await (await fetch(`${host.url}api/rehearsals/${summary!.id}`)).json());
  const test = kept.events.reduce(foldRun, NO_RUN);
  const plan = planOf(shelfOf(library), test.drawn!);
  const result = markTest(plan.checklists, plan.rules, test);
  const said = test.runs.flatMap(({ state }) => state.utterances.map(({ text }) => text)).join('\n');
  expect(summaryOf(result), said).toEqual(EXPECTED);
  const [clock] = result.skills[0]!.clocks;
  // As in rehearsal.test.ts: a busy machine stretches the browser's sound.
  expect(Math.abs(clock!.seconds - five.spoken.clocks.get('scrub')!)).toBeLessThan(1);
}, 420_000);
