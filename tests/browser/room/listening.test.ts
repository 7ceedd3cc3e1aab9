import { execFile } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import type { Browser } from 'playwright-core';
import { build } from 'vite';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startHost, type Host } from '../../../app/host/server.ts';
import { SkillFolder } from '../../../app/library/skillFolder.ts';
import type { ListeningPage } from '../listeningPage/page.ts';
import { readSamples } from '../../speech/sound.ts';
import { SYNTHETIC } from '../../speech/syntheticModel.ts';
import { openBrowser } from '../roomInBrowser.ts';

declare const window: { readonly page: ListeningPage };

const SAID = 'Good morning. I am putting the call light within reach of your hand.';

let folder: string;
let host: Host | undefined;
let browser: Browser | undefined;
let origin: string;

beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-listening-'));
  const sound = path.join(folder, 'said.wav');
  await promisify(execFile)('flite', ['-voice', 'slt', '-t', SAID, '-o', sound]);
  const built = path.join(folder, 'page');
  await build({
    root: fileURLToPath(new URL('../listeningPage', import.meta.url)),
    configFile: false,
    logLevel: 'error',
    worker: { format: 'es' },
    build: { outDir: built, target: 'es2022', assetsInlineLimit: 0 },
  });
  const warn = (message: string): void => console.error(message);
  host = await startHost({
    data: folder,
    skills: await SkillFolder.open(folder),
    renderer: built,
    port: 0,
    warn,
  });
  origin = new URL(host.url).origin;
  const said = new Float32Array(await readSamples(sound));
  await writeFile(path.join(built, 'said.f32'), said);
  browser = await openBrowser(sound, 'once');
}, 120_000);

afterAll(async () => {
  await browser?.close();
  await host?.close();
  await rm(folder, { recursive: true });
});

it('hears a microphone in a worker of a browser and asks nobody else', async () => {
  const page = await browser!.newPage();
  const asked: string[] = [];
  page.on('request', (request) => asked.push(request.url()));
  const complaints: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') complaints.push(message.text());
  });
  await page.goto(origin);
  expect(await page.evaluate('crossOriginIsolated')).toBe(true);
  await page.evaluate(() => window.page.listen(9));
  const events = await page.evaluate(() => window.page.events);

  const utterances = events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));
  const text = utterances
    .map((u) => u.text)
    .join(' ')
    .toLowerCase();
  expect(text).toMatch(/good morning/);
  expect(text).toMatch(/within reach of your hand/);
  expect(events.some((e) => e.type === 'partial')).toBe(true);
  expect(events.filter((e) => e.type === 'trouble')).toEqual([]);
  // The host's content policy lets through all that listening needs.
  expect(complaints).toEqual([]);
  expect(
    asked.filter((url) => !url.startsWith(origin) && !url.startsWith('data:') && !url.startsWith('blob:')),
  ).toEqual([]);
}, 120_000);

it('hears with Kaldi all that is said, though its worker is killed in the middle of it', async () => {
  const page = await browser!.newPage();
  const complaints: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') complaints.push(message.text());
  });
  await page.goto(origin);
  const workers = await page.evaluate(
    (model) => window.page.hearKilled(model, 2),
    `${SYNTHETIC}/model.tar.gz`,
  );
  expect(workers).toBe(2);
  const events = await page.evaluate(() => window.page.events);
  expect(events.flatMap((e) => (e.type === 'trouble' ? [e.trouble.kind] : []))).toEqual(['restarted']);
  const utterances = events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));
  expect(utterances.map(({ id }) => id)).toEqual(utterances.map((_, i) => i));
  const words = utterances.flatMap((u) => u.words);
  expect(words.map((w) => w.text).join(' ')).toMatch(/good morning .*call light within reach of your hand/);
  // The one before the kill and all after it lie where they were said, one after the other.
  for (const [i, word] of words.entries())
    expect(word.start).toBeGreaterThanOrEqual((words[i - 1]?.end ?? 0) - 0.05);
  expect(events.some((e) => e.type === 'partial')).toBe(true);
  expect(complaints).toEqual([]);
}, 60_000);
