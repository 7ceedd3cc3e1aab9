import { execFile } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { mkdtemp, readdir, readFile, rename, rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { chromium, type Browser, type Locator, type Page } from 'playwright-core';
import { build } from 'vite';
import { startHost, type Host } from '../../app/host/server.ts';
import { SkillFolder } from '../../app/library/skillFolder.ts';
import { CACHE } from '../speech/voices.ts';

const root = fileURLToPath(new URL('../../', import.meta.url));

/** The room as it is built and served, with a data folder of its own. */
export interface BuiltRoom {
  readonly folder: string;
  /** Where the built screens lie. */
  readonly renderer: string;
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
  const [folder, renderer] = [await mkdtemp(path.join(tmpdir(), 'sinkside-room-')), await builtRenderer()];
  return {
    folder,
    renderer,
    host: async (port = 0, skills?: string) =>
      startHost({
        data: path.join(folder, 'data'),
        skills: await SkillFolder.open(path.join(folder, 'data'), skills),
        renderer,
        port,
        warn: () => undefined,
      }),
    browser: openBrowser,
    remove: () => rm(folder, { recursive: true }),
  };
}

/** What a build rests on. */
const SOURCES = [
  'app',
  'renderer',
  'models/catalog.json',
  'package-lock.json',
  'tsconfig.json',
  'vite.config.ts',
];
const SOURCE_FILE = /\.(tsx?|css|html|json|mjs|svg|yaml)$/;

/** The folder with the screens as they are now, built once for all tests. */
export async function builtRenderer(): Promise<string> {
  const hash = createHash('sha256');
  for (const source of SOURCES) {
    const where = path.join(root, source);
    const entries = await readdir(where, { recursive: true }).catch(() => ['']);
    for (const entry of entries.sort()) {
      const file = path.join(where, entry);
      if (SOURCE_FILE.test(file))
        hash
          .update(path.relative(root, file))
          .update('\0')
          .update(await readFile(file));
    }
  }
  const built = path.join(CACHE, 'rooms', hash.digest('hex').slice(0, 16));
  if (existsSync(built)) return built;
  // Appears whole or not at all: another test may be building it as well.
  const making = `${built}.${process.pid}`;
  // As it ships: vitest's "test" would build React for developers, at twice the size.
  const { NODE_ENV } = process.env;
  process.env['NODE_ENV'] = 'production';
  await build({
    configFile: path.join(root, 'vite.config.ts'),
    root: path.join(root, 'renderer'),
    logLevel: 'error',
    build: { outDir: making, emptyOutDir: true },
  });
  process.env['NODE_ENV'] = NODE_ENV ?? 'production';
  await rename(making, built).catch(() => rm(making, { recursive: true }));
  return built;
}

/** Speaks a text into a WAV file that a browser is to play round and round: the pause at its end parts the rounds. */
export async function speakForRounds(folder: string, text: string): Promise<string> {
  const [spoken, sound] = [path.join(folder, 'spoken.wav'), path.join(folder, 'said.wav')];
  await promisify(execFile)('flite', ['-voice', 'slt', '-t', text, '-o', spoken]);
  await promisify(execFile)('ffmpeg', ['-loglevel', 'error', '-i', spoken, '-af', 'apad=pad_dur=3', sound]);
  return sound;
}

/** Goes to a skill's page by keyboard, as a trainee does: home, then the skill by its title. */
export async function openSkill(page: Page, title: string | RegExp): Promise<void> {
  const follow = async (link: Locator): Promise<void> => {
    await link.focus();
    await page.keyboard.press('Enter');
  };
  await follow(page.getByRole('link', { name: 'Rehearse', exact: true }));
  await follow(page.getByRole('region', { name: 'All skills' }).getByRole('link', { name: title }));
  await page.getByRole('heading', { level: 1, name: title }).waitFor();
}

/** What the axe tests reach for inside the page. */
declare const window: {
  axe: { run(options: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> };
};

let axe: string | undefined;

/** What axe finds wrong with a page as it stands, by the rules of WCAG 2.2 A and AA. */
export async function axeFaults(page: Page): Promise<string[]> {
  axe ??= await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
  await page.evaluate(axe);
  // Marks fade in; colours are judged once they stand.
  await page.waitForTimeout(400);
  const { violations } = await page.evaluate(() =>
    window.axe.run({
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    }),
  );
  return violations.flatMap(({ id, nodes }) => nodes.map(({ html }) => `${id}: ${html}`));
}
