/**
 * Every measure of a simulated resident at real speed, through the browser's own microphone: in a skill and inside a mock test, once
 * rightly and once wrongly. `npm run bench:measures -- --measure pulse --how right --within skill`; without options all twenty, some half
 * an hour. Prints what came of each, and exits with 1 where that is not what it must be. Nothing else should be running; where something is,
 * `--waits` has the sound wait for the machine (`quickMicrophone.ts`).
 */
import path from 'node:path';
import { parseArgs } from 'node:util';
import type { Page } from 'playwright-core';
import { RehearsalSchema } from '../../../app/host/api.ts';
import type { Host } from '../../../app/host/server.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { markRehearsal } from '../../../app/marking/result.ts';
import { lookBackOn } from '../../../app/marking/simulated.ts';
import { foldRun, NO_RUN } from '../../../app/run/runState.ts';
import { DEFAULT_SETTINGS } from '../../../app/settings/settings.ts';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import { MEASURES, type Measure } from '../../../app/skills/measure.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { concatenate, writeWav } from '../../speech/sound.ts';
import { synthesize } from '../../speech/synthesize.ts';
import { inTest, measureScript, whole, type How, type MeasureScript } from './measures.ts';
import { hearQuickly, REAL } from '../made/quickMicrophone.ts';
import { buildRoom, openSkill } from '../roomInBrowser.ts';

type Within = 'skill' | 'test';

/** Rules that name a tolerance for every unit. */
const RULES = 'strict';

const { values } = parseArgs({
  options: {
    measure: { type: 'string' },
    how: { type: 'string' },
    within: { type: 'string' },
    waits: { type: 'boolean' },
  },
});
const wanted = <T extends string>(all: readonly T[], one: string | undefined): readonly T[] =>
  all.filter((each) => one === undefined || each === one);

const room = await buildRoom();
const host = await room.host();
const library = await openLibrary();
const rules = library.ruleSets.get(RULES) ?? library.rules;
const missed: string[] = [];
try {
  for (const measure of wanted(MEASURES, values.measure))
    for (const within of wanted<Within>(['skill', 'test'], values.within))
      for (const how of wanted<How>(['right', 'wrong'], values.how)) await measureOnce(measure, how, within);
} finally {
  await host.close();
  await room.remove();
}
console.log(missed.length === 0 ? 'All as they must be.' : `Not as they must be: ${missed.join('; ')}`);
process.exit(missed.length === 0 ? 0 : 1);

async function measureOnce(measure: Measure, how: How, within: Within): Promise<void> {
  const script = measureScript(measure, how);
  const name = `${measure}, ${how}, in a ${within}`;
  const events = await rehearse(script, within, host);
  const state = events.reduce(foldRun, NO_RUN).runs.at(-1)?.state;
  const skill = library.skills.get(script.skill);
  if (!state || !skill) throw new Error(`${name}: nothing was kept.`);
  const checklist = makeChecklist(skill, library.lexicon, rules);
  const outcomes = markRehearsal(checklist, state).steps;
  const got = script.readings.map((id) => outcomes.find((step) => step.id === id)?.outcome ?? 'none');
  const back = lookBackOn(checklist, state);
  const numbers = back?.readings.map(({ truth, comparison, unclear }) => {
    const said = comparison?.recorded ?? (unclear === null ? 'nothing' : `${unclear}?`);
    return `said ${said}, truth ${truth ?? 'none'}`;
  });
  const isRight = got.every((outcome) => outcome === 'heard');
  // What was said wrongly may not pass, whatever else comes of it.
  const isAsMust = how === 'right' ? isRight : !isRight;
  if (!isAsMust) missed.push(name);
  const remarks = back && back.remarks.length > 0 ? `; told: ${back.remarks.join(', ')}` : '';
  console.log(
    `${isAsMust ? '✓' : '✗'} ${name}: ${got.join(', ')}; ${numbers?.join('; ') ?? 'no resident'}${remarks}`,
  );
  if (!isAsMust) console.log(state.utterances.map(({ text }) => `    ${text}`).join('\n'));
}

async function rehearse({ seed, lines, skill }: MeasureScript, within: Within, { url }: Host) {
  await fetch(`${url}api/settings`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ ...DEFAULT_SETTINGS, resident: { ...DEFAULT_SETTINGS.resident, seed } }),
  });
  const spoken = within === 'skill' ? whole(lines) : inTest(lines);
  const { samples } = await synthesize({ id: skill, lines: spoken }, 'joe');
  const sound = path.join(room.folder, 'measure.wav');
  // The browser plays it from the moment it is asked for the microphone, before anything listens.
  await writeWav(sound, concatenate([new Float32Array(3 * SAMPLE_RATE), samples]));
  const browser = await room.browser(sound, 'once');
  try {
    const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
    if (values.waits) await hearQuickly(page, samples, REAL);
    page.setDefaultTimeout(120_000);
    await page.goto(url);
    await (within === 'skill' ? startSkill : startTest)(page, library.skills.get(skill)?.title ?? skill);
    await page
      .getByRole('heading', { level: 1, name: /how it went/ })
      .waitFor({ timeout: (samples.length / SAMPLE_RATE) * (values.waits ? 8000 : 1000) + 120_000 });
    const [summary] = (await (await fetch(`${url}api/rehearsals`)).json()) as { id: string }[];
    if (!summary) return [];
    return RehearsalSchema.parse(await (await fetch(`${url}api/rehearsals/${summary.id}`)).json()).events;
  } finally {
    await browser.close();
  }
}

async function startSkill(page: Page, title: string): Promise<void> {
  await openSkill(page, title);
  await page.getByRole('button', { name: 'Start the rehearsal' }).click();
}

async function startTest(page: Page, title: string): Promise<void> {
  await page.getByRole('link', { name: 'Mock test', exact: true }).click();
  await page.getByText('Picked by hand').click();
  await page.getByRole('checkbox', { name: 'Hand washing' }).check();
  await page.getByRole('checkbox', { name: title }).check();
  await page.getByRole('radio', { name: rules.title }).check();
  await page.getByRole('button', { name: 'Take these skills' }).click();
  await page.getByRole('button', { name: 'Start the mock test' }).click();
}
