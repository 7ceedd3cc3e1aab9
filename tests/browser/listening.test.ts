import { execFile } from 'node:child_process';
import { createServer, type Server } from 'node:http';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { chromium, type Browser } from 'playwright-core';
import { build } from 'vite';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { loadModel } from '../../models/load.ts';
import type { ListeningPage } from './listeningPage/page.ts';

declare const window: { readonly page: ListeningPage };

const SAID = 'Good morning. I am putting the call light within reach of your hand.';

let folder: string;
let server: Server | undefined;
let browser: Browser | undefined;
let origin: string;

/** Serves the built page and the model's files, isolated from other origins as the program's own host does. */
async function serve(built: string): Promise<Server> {
  const model = await loadModel();
  const detector = await readFile(
    fileURLToPath(import.meta.resolve('@ricky0123/vad-web/dist/silero_vad_v5.onnx')),
  );
  const models: Record<string, Uint8Array> = {
    '/models/encoder_model.ort': model.encoder,
    '/models/decoder_model_merged.ort': model.decoder,
    '/models/tokenizer.bin': model.tokenizer,
    '/models/silero_vad_v5.onnx': detector,
  };
  const types: Record<string, string> = {
    '.html': 'text/html',
    '.js': 'text/javascript',
    '.mjs': 'text/javascript',
    '.wasm': 'application/wasm',
  };
  return createServer((request, response) => {
    const name = new URL(request.url ?? '/', 'http://localhost').pathname;
    const file = path.join(built, name === '/' ? 'index.html' : name);
    void Promise.resolve(models[name] ?? readFile(file)).then(
      (body) =>
        response
          .writeHead(200, {
            'content-type': types[path.extname(file)] ?? 'application/octet-stream',
            'cross-origin-opener-policy': 'same-origin',
            'cross-origin-embedder-policy': 'require-corp',
          })
          .end(body),
      () => response.writeHead(404).end(),
    );
  });
}

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
    build: { outDir: built, target: 'es2022' },
  });
  const served = await serve(built);
  server = served;
  await new Promise<void>((listening) => served.listen(0, '127.0.0.1', listening));
  origin = `http://127.0.0.1:${(served.address() as AddressInfo).port}`;
  browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--use-fake-ui-for-media-stream',
      '--use-fake-device-for-media-stream',
      `--use-file-for-fake-audio-capture=${sound}%noloop`,
      '--autoplay-policy=no-user-gesture-required',
    ],
  });
}, 120_000);

afterAll(async () => {
  await browser?.close();
  server?.close();
  await rm(folder, { recursive: true });
});

it('hears a microphone in a worker of a browser and asks nobody else', async () => {
  const page = await browser!.newPage();
  const asked: string[] = [];
  page.on('request', (request) => asked.push(request.url()));
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
  expect(
    asked.filter((url) => !url.startsWith(origin) && !url.startsWith('data:') && !url.startsWith('blob:')),
  ).toEqual([]);
}, 120_000);
