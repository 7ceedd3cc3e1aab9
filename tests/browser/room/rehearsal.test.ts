import path from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { RehearsalSchema } from '../../../app/host/api.ts';
import type { Host } from '../../../app/host/server.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { makeChecklist } from '../../../app/skills/checklist.ts';
import type { Listening } from '../../../app/settings/choice.ts';
import { DEFAULT_SETTINGS } from '../../../app/settings/settings.ts';
import { markRehearsal } from '../../../app/marking/result.ts';
import { BEFORE, fold } from '../../../app/marking/state.ts';
import type { Line } from '../../speech/narration.ts';
import { concatenate, writeWav } from '../../speech/sound.ts';
import { synthesize } from '../../speech/synthesize.ts';
import { buildRoom, openSkill, type BuiltRoom } from '../roomInBrowser.ts';

/**
 * Whole rehearsals, live: a synthetic trainee speaks into the browser's microphone at real speed and touches nothing. The
 * truth is the script's.
 */

/** Seconds a clock may be off. A browser on a busy machine stretches its sound by some tenths; the benchmarks tell how right clocks are. */
const CLOCK = 1;

let room: BuiltRoom;
let host: Host;
let browser: Browser | undefined;

beforeAll(async () => {
  room = await buildRoom();
  host = await room.host();
}, 120_000);
afterEach(async () => browser?.close());
afterAll(async () => {
  await host.close();
  await room.remove();
});

const line = (say: string, rest: Partial<Line> = {}): Line => ({
  say,
  by: 'trainee',
  pause: 1.2,
  credits: [],
  either: [],
  counts: {},
  ...rest,
});

/** Speaks a script in the room, heard by an engine, from its opening to the End screen. */
async function rehearse(
  id: string,
  lines: readonly Line[],
  during: (page: Page) => Promise<void>,
  engine: Listening = 'moonshine',
) {
  await fetch(`${host.url}api/settings`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ ...DEFAULT_SETTINGS, engine }),
  });
  const spoken = await synthesize({ id, lines: [...lines] }, 'flite-slt');
  const sound = path.join(room.folder, `${id}.wav`);
  // The browser plays it from the moment it is asked for the microphone, before anything listens.
  await writeWav(sound, concatenate([new Float32Array(3 * SAMPLE_RATE), spoken.samples]));
  browser = await room.browser(sound, 'once');
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  await page.goto(host.url);
  await openSkill(page, /Hand washing/);
  await page.getByRole('button', { name: 'Start the rehearsal' }).click();
  await during(page);
  await page
    .getByRole('heading', { level: 1, name: /how it went/ })
    .waitFor({ timeout: (spoken.samples.length / SAMPLE_RATE) * 1000 + 60_000 });
  const [summary] = (await (await fetch(`${host.url}api/rehearsals`)).json()) as { id: string }[];
  const reply = RehearsalSchema.parse(await (await fetch(`${host.url}api/rehearsals/${summary!.id}`)).json());
  const { skills, lexicon, rules } = await openLibrary();
  const checklist = makeChecklist(skills.get('hand-washing')!, lexicon, rules);
  const state = reply.events.reduce(fold, BEFORE);
  const marks = markRehearsal(checklist, state);
  const outcomes = Object.fromEntries(marks.steps.map((step) => [step.id, step.outcome]));
  expect(reply.header.engine).toMatch(engine);
  return { page, spoken, state, marks, outcomes };
}

it('hears a whole hand wash with commands by voice, and marks it', async () => {
  const { page, spoken, state, marks, outcomes } = await rehearse(
    'whole',
    [
      line('I am ready to begin.', { pause: 3 }),
      line('Good morning Mrs. Hollis, my name is Robin and I am your nurse aide today.'),
      line('Could you tell me your full name, please?'),
      line('Thank you. I am checking that against your wristband.'),
      line('I push my sleeves up, and my watch too.'),
      line('How much time is left?', { pause: 3 }),
      line('I turn the water on, and it is nice and warm.'),
      line('I am keeping clear of the inside of the sink.'),
      line('I am wetting my hands and my wrists, with my fingertips pointing down.'),
      line('Pause, please.', { pause: 2 }),
      line('I clean under my nails.', { pause: 2 }),
      line('Please go on.', { pause: 2 }),
      line('Now I take some soap.'),
      line('I am making lather, with my hands away from the water.'),
      line('I am scrubbing all the surfaces of my hands with friction.', { starts: 'scrub', pause: 6 }),
      line('I rub between my fingers, and around my wrists.', { fills: { scrub: 22 } }),
      line('That is twenty seconds.', { stops: 'scrub' }),
      line('I am rinsing my hands, from the wrists down to the fingertips.'),
      line('I dry my hands with a clean paper towel, from the fingertips up.'),
      line('I throw the towel in the bin.'),
      line('I turn the tap off with a clean, dry paper towel.'),
      line('Stop the rehearsal.', { pause: 6 }),
    ],
    async (room) => {
      await room.getByText(/About 29 minutes left/).waitFor({ timeout: 90_000 });
      await room.getByText('Paused: say').waitFor({ timeout: 90_000 });
      await room.getByText('Listening', { exact: true }).waitFor({ timeout: 60_000 });
    },
  );
  expect(state.commands.map(({ command }) => command)).toEqual([
    'begin', 'time left', 'pause', 'go on', 'stop',
  ]); // prettier-ignore
  // Said in the pause: kept, not credited.
  expect(state.asides.map(({ utterance }) => utterance.text).join(' ')).toMatch(/under my nails/);
  const notHeard = Object.keys(outcomes).filter((id) => outcomes[id] !== 'heard');
  expect(notHeard.sort(), state.utterances.map(({ text }) => text).join('\n')).toEqual([
    'nails',
    'no-contact',
  ]);
  const [clock] = marks.clocks;
  expect(Math.abs(clock!.seconds - spoken.clocks.get('scrub')!)).toBeLessThan(CLOCK);
  expect(clock!.met).toBe(true);
  expect(marks.result).toMatchObject({ passed: true, criticalMissed: [] });
  await page.getByText('17 of 18 steps heard.').waitFor();
  await page.getByRole('region', { name: 'Result' }).getByText(/pass/i).first().waitFor();
}, 300_000);

it('does not pass a hand wash scrubbed too short, and shows the critical step first', async () => {
  const { page, spoken, state, marks, outcomes } = await rehearse(
    'short',
    [
      line('I am ready to begin.', { pause: 3 }),
      line('I am wetting my hands and my wrists.'),
      line('Now I take some soap.'),
      line('I am scrubbing all the surfaces of my hands with friction.', {
        starts: 'scrub',
        fills: { scrub: 18 },
      }),
      line('That is twenty seconds.', { stops: 'scrub' }),
      line('I forgot to rinse from my wrists down to my fingertips.'),
      line('Stop the rehearsal.', { pause: 6 }),
    ],
    () => Promise.resolve(),
  );
  const [clock] = marks.clocks;
  const heard = state.utterances.map(({ text }) => text).join('\n');
  expect(Math.abs(clock!.seconds - spoken.clocks.get('scrub')!), heard).toBeLessThan(CLOCK);
  expect(clock!.met).toBe(false);
  expect(outcomes).toMatchObject({ wet: 'heard', soap: 'heard', scrub: 'not heard', rinse: 'not heard' });
  expect(marks.result.passed).toBe(false);
  expect(marks.result.criticalMissed.sort()).toEqual(['rinse', 'scrub']);
  const [first] = await page.locator('summary').allTextContents();
  expect(first).toMatch(/critical/i);
}, 180_000);

it('hears a whole hand wash with Kaldi, and marks it', async () => {
  const { page, spoken, state, marks, outcomes } = await rehearse(
    'streamed',
    [
      line('I am ready to begin.', { pause: 2 }),
      line('Good morning, my name is Maria and I am your nurse aide today.'),
      line('I turn on the warm water.'),
      line('I wet my hands and wrists.'),
      line('I take some soap.'),
      line('I rub my palms together.', { starts: 'scrub', pause: 4 }),
      line('I rub between my fingers and around my wrists.', { fills: { scrub: 20.8 } }),
      line('Now I clean under my nails.', { stops: 'scrub' }),
      line('I rinse from my wrists down to my fingertips.'),
      line('I dry my hands with a clean paper towel from the fingertips up.'),
      line('I am finished.', { pause: 4 }),
    ].map((said) => ({ ...said, pause: Math.min(said.pause, 0.7) })),
    (room) => room.getByText(/rinse from my/).waitFor({ timeout: 90_000 }),
    'vosk',
  );
  expect(state.commands.map(({ command }) => command)).toEqual(['begin', 'stop']);
  const said = 'greet warm-water wet soap scrub between-fingers wrists nails rinse dry'.split(' ');
  expect(
    Object.keys(outcomes)
      .filter((id) => outcomes[id] === 'heard')
      .sort(),
  ).toEqual(said.sort());
  const [clock] = marks.clocks;
  expect(Math.abs(clock!.seconds - spoken.clocks.get('scrub')!)).toBeLessThan(0.3);
  expect(clock!.met).toBe(true);
  await page.getByText(/\d+ of 18 steps heard\./).waitFor();
}, 180_000);
