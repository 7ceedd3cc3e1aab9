import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import { RehearsalSchema, SettingsSchema } from '../../../app/host/api.ts';
import type { Host } from '../../../app/host/server.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { TEST_SENTENCE } from '../../../app/loudness/soundCheck.ts';
import { describeCheck } from '../../../app/loudness/checkedMicrophones.ts';
import { loudnessIn } from '../../../app/loudness/voiceOverNoise.ts';
import { makeNoise, mix } from '../../speech/noise.ts';
import { concatenate } from '../../speech/sound.ts';
import { say } from '../../speech/voices.ts';
import { axeFaults, buildRoom, openSkill, speakForRounds, type BuiltRoom } from '../roomInBrowser.ts';

/**
 * The sound check beside a running tap, what is remembered of it, and how loud the tap is said to have been afterwards. The page hears
 * a tap that runs all the time and a sentence when the test has it said, mixed at a known distance.
 */

/** How far the voice stands over the tap, dB, and how far off a measurement through the browser may be. */
const SNR = 10;
const OFF = 2.5;
const NAME = 'Desk microphone';

/** What the test reaches for inside the page. */
declare const window: { speak(): void; AudioContext: typeof AudioContext };
declare const navigator: { mediaDevices: MediaDevices };

let room: BuiltRoom;
let host: Host;
let browser: Browser | undefined;
let page: Page;

beforeAll(async () => {
  room = await buildRoom();
  host = await room.host();
  // Never heard: the page's microphone is replaced. Chromium wants some sound all the same.
  browser = await room.browser(await speakForRounds(room.folder, 'Hello.'), 'round');
}, 120_000);
afterAll(async () => {
  await browser?.close();
  await host.close();
  await room.remove();
});

const press = (key: string): Promise<void> => page.keyboard.press(key);
const heading = (name: RegExp) => page.getByRole('heading', { level: 1, name });
const speak = (): Promise<void> => page.evaluate(() => window.speak());

/** A page whose microphone hears a tap all the time, and the sentence on demand. */
async function visit(): Promise<void> {
  const sentence = await say({ voice: 'joe', text: TEST_SENTENCE });
  const silence = new Float32Array(8 * SAMPLE_RATE - sentence.length);
  const voice = concatenate([sentence, silence]);
  const mixed = mix(voice, await makeNoise('tap', voice.length, 4, 'joe'), SNR);
  const tap = mixed.map((s, i) => s - voice[i]!);
  page = await browser!.newPage({ viewport: { width: 1280, height: 800 } });
  await page.addInitScript(
    ({ name, rate, sounds }) => {
      const opened = (async () => {
        const context = new window.AudioContext({ sampleRate: rate });
        const heard = context.createMediaStreamDestination();
        const source = (samples: readonly number[], loop: boolean): AudioBufferSourceNode => {
          const buffer = context.createBuffer(1, samples.length, rate);
          buffer.copyToChannel(Float32Array.from(samples), 0);
          const node = context.createBufferSource();
          Object.assign(node, { buffer, loop });
          node.connect(heard);
          return node;
        };
        source(sounds.tap, true).start();
        window.speak = () => source(sounds.sentence, false).start();
        await context.resume();
        return heard.stream;
      })();
      navigator.mediaDevices.getUserMedia = async () => {
        const stream = (await opened).clone();
        for (const track of stream.getAudioTracks()) Object.defineProperty(track, 'label', { value: name });
        return stream;
      };
      navigator.mediaDevices.enumerateDevices = () =>
        Promise.resolve([
          { kind: 'audioinput', deviceId: 'default', groupId: '', label: name, toJSON: () => ({}) },
        ]);
    },
    { name: NAME, rate: SAMPLE_RATE, sounds: { tap: [...tap], sentence: [...sentence] } },
  );
  await page.goto(host.url);
  await openSkill(page, /Hand washing/);
}

const settings = async () => SettingsSchema.parse(await (await fetch(`${host.url}api/settings`)).json());

it('measures the voice over the tap, remembers it, and tells afterwards how loud the tap was', async () => {
  await visit();
  const standing = page.getByRole('region', { name: 'Microphone', exact: true });
  await standing.getByText(NAME).waitFor();
  await standing.getByText(/has not been checked beside a running tap/).waitFor();
  await page.getByRole('link', { name: 'Sound check' }).focus();
  await press('Enter');
  await page.getByText(/Turn the tap on/).waitFor();
  await page.getByRole('button', { name: 'Begin the check' }).focus();
  await press('Enter');
  await page.getByText(/say nothing: [1-5]/).waitFor({ timeout: 60_000 });
  await page.getByText(/The tap still running, say/).waitFor({ timeout: 30_000 });
  await speak();
  await page.getByText(/Your voice was .* the tap \(\d+ dB\)/).waitFor({ timeout: 60_000 });
  expect(await axeFaults(page)).toEqual([]);

  await vi.waitFor(async () => expect((await settings()).checkedMicrophones).toHaveLength(1));
  const [check] = (await settings()).checkedMicrophones;
  expect(check).toMatchObject({ label: NAME, device: null, cleaned: false });
  expect(Math.abs(check!.measured!.snr - SNR), JSON.stringify(check)).toBeLessThan(OFF);

  await page.getByRole('link', { name: 'To the skills' }).focus();
  await press('Enter');
  await openSkill(page, /Hand washing/);
  await standing.getByText(describeCheck(check!)).waitFor();
  expect(await axeFaults(page)).toEqual([]);

  await page.getByRole('button', { name: 'Start the rehearsal' }).focus();
  await press('Enter');
  await page.getByText('Ready', { exact: true }).waitFor({ timeout: 60_000 });
  expect(await page.getByText(/has not been checked/).count()).toBe(0);
  await press('Space');
  await page.getByText('Listening', { exact: true }).waitFor();
  await page.waitForTimeout(3000);
  await speak();
  await page.locator('.heard', { hasText: /paper towel/i }).waitFor({ timeout: 60_000 });
  await page.waitForTimeout(2000);
  await press('Escape');
  await heading(/how it went/).waitFor({ timeout: 60_000 });
  await page.getByRole('heading', { name: 'The tap and your voice' }).waitFor();
  await page.getByText(/Where the tap was loudest, your voice was .* \(\d+ dB\)/).waitFor();
  expect(await axeFaults(page)).toEqual([]);

  const [latest] = (await (await fetch(`${host.url}api/rehearsals`)).json()) as { id: string }[];
  const { events, faults } = RehearsalSchema.parse(
    await (await fetch(`${host.url}api/rehearsals/${latest!.id}`)).json(),
  );
  expect(faults).toEqual([]);
  const levels = (of: 'noise' | 'speech'): number[] =>
    loudnessIn(events).flatMap((each) => (each.of === of ? [each.level] : []));
  expect(levels('noise').length).toBeGreaterThanOrEqual(2);
  expect(levels('speech').length).toBeGreaterThanOrEqual(1);
  const distance = Math.max(...levels('speech')) - Math.max(...levels('noise'));
  expect(Math.abs(distance - SNR), JSON.stringify(loudnessIn(events))).toBeLessThan(OFF);
}, 240_000);
