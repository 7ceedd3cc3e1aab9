import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import type { Browser } from 'playwright-core';
import { build } from 'vite';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startHost, type Host } from '../../app/host/server.ts';
import { SkillFolder } from '../../app/records/skillFolder.ts';
import type { ListeningPage } from './listeningPage/page.ts';
import { openBrowser } from './roomInBrowser.ts';

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
    root: fileURLToPath(new URL('listeningPage/', import.meta.url)),
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
