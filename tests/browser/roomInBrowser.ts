import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser } from 'playwright-core';
import { build } from 'vite';
import { startHost, type Host } from '../../app/host/server.ts';
import { openLibrary } from '../../app/records/library.ts';

const root = fileURLToPath(new URL('../../', import.meta.url));

/** The room as it is built and served, with a data folder of its own. */
export interface BuiltRoom {
  readonly folder: string;
  /** Starts the host, at any port where it is 0, with a folder of skills instead of our own. */
  host(port?: number, skills?: string): Promise<Host>;
  readonly browser: typeof openBrowser;
  remove(): Promise<void>;
}

/** Opens Chromium with a microphone that hears a WAV file, once or round and round, and is allowed without asking. */
export function openBrowser(sound: string, play: 'once' | 'round'): Promise<Browser> {
  return chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--use-fake-ui-for-media-stream',
      '--use-fake-device-for-media-stream',
      `--use-file-for-fake-audio-capture=${sound}${play === 'once' ? '%noloop' : ''}`,
      '--autoplay-policy=no-user-gesture-required',
    ],
  });
}

export async function buildRoom(): Promise<BuiltRoom> {
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-room-'));
  const renderer = path.join(folder, 'renderer');
  await build({
    configFile: path.join(root, 'vite.config.ts'),
    root: path.join(root, 'renderer'),
    logLevel: 'error',
    build: { outDir: renderer },
  });
  return {
    folder,
    host: async (port = 0, skills?: string) =>
      startHost({
        data: path.join(folder, 'data'),
        library: await openLibrary(skills),
        renderer,
        port,
        warn: () => undefined,
      }),
    browser: openBrowser,
    remove: () => rm(folder, { recursive: true }),
  };
}
