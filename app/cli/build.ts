import { copyFile, cp, readdir, stat } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import type * as Vite from 'vite';
import { catalog, hasOwnFiles } from '../../models/catalog.ts';
import { SHIPPED_MODELS } from '../../models/verify.ts';
import { packagedFiles } from '../engines/packaged.ts';
import type { ExitCode, Io } from './io.ts';

export const USAGE = `Usage: sinkside build

Builds the screens into dist/renderer and the Electron shell into dist/desktop, where they are older than their sources.
`;

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const inRoot = (name: string): string => path.join(ROOT, name);

/** The built screens. */
export const RENDERER = inRoot('dist/renderer');
/** What Electron runs. */
export const DESKTOP_MAIN = inRoot('dist/desktop/main.js');

/** The builder is a development package, which an installation without those lacks. */
export class NoBuilder extends Error {
  override readonly name = 'NoBuilder';
}

/** `sinkside build` */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  if (args.length > 0) {
    io.err(USAGE);
    return 2;
  }
  await buildScreens(io);
  await buildDesktop(io);
  return 0;
}

/** Folders of app/ of which nothing is on a screen. */
const OFF_SCREEN = new Set(['bundle', 'carrying', 'cli', 'desktop', 'disk', 'host', 'library', 'records']);

/** Builds the screens where they are missing or older than their sources. Throws {@link NoBuilder}. */
export async function buildScreens(io: Pick<Io, 'err'>): Promise<void> {
  const rooms = (await readdir(inRoot('app'))).filter((name) => !OFF_SCREEN.has(name));
  const sources = [
    'renderer',
    ...rooms.map((name) => `app/${name}`),
    'app/host/api.ts',
    'app/host/apis/foundApi.ts',
    'app/host/apis/bundlesApi.ts',
    'app/host/apis/skillsApi.ts',
    'app/carrying/takenIn.ts',
    'vite.config.ts',
  ];
  if (!(await isStale(path.join(RENDERER, 'index.html'), [...sources, 'package-lock.json'].map(inRoot))))
    return;
  io.err('Building the screens into dist/renderer …\n');
  const { build } = await vite();
  await build({ configFile: inRoot('vite.config.ts'), root: inRoot('renderer'), logLevel: 'warn' });
}

/** Builds the Electron shell, likewise: each entry is one file that needs no package beside it. */
export async function buildDesktop(io: Pick<Io, 'err'>): Promise<void> {
  const models = (await readdir(inRoot('models'))).filter((name) => /(?<!\.test)\.(ts|json)$/.test(name));
  const sources = ['app', ...models.map((name) => `models/${name}`), 'package-lock.json'];
  if (!(await isStale(DESKTOP_MAIN, sources.map(inRoot)))) return;
  io.err('Building the Electron shell into dist/desktop …\n');
  const { build } = await vite();
  const entries = [
    { entry: 'preload.ts', format: 'cjs', file: 'preload.cjs' },
    { entry: '../records/packing/packingWorker.ts', format: 'es', file: 'packThread.mjs' },
    // The last one written: it tells whether the build is whole.
    { entry: 'main.ts', format: 'es', file: 'main.js' },
  ] as const;
  const outDir = path.dirname(DESKTOP_MAIN);
  for (const { entry, format, file } of entries) {
    await build({
      configFile: false,
      root: ROOT,
      logLevel: 'warn',
      publicDir: false,
      ssr: { noExternal: true, external: ['electron'] },
      // libFLAC's build asks for it as it is loaded, and modules have none.
      define: { __dirname: 'import.meta.dirname' },
      build: {
        ssr: inRoot(`app/desktop/${entry}`),
        outDir,
        emptyOutDir: false,
        target: 'node22',
        rolldownOptions: { output: { format, entryFileNames: file, codeSplitting: false } },
      },
    });
    if (entry === 'preload.ts') {
      for (const file of Object.values(packagedFiles()))
        await copyFile(file, path.join(outDir, path.basename(file)));
      // Beside the built code, as in the project they are beside the code that looks for them.
      for (const { id } of catalog().filter(hasOwnFiles))
        await cp(path.join(SHIPPED_MODELS, id), path.join(outDir, id), { recursive: true });
    }
  }
}

/** Whether a built file is missing or older than any of its sources, files or folders. */
export async function isStale(built: string, sources: readonly string[]): Promise<boolean> {
  const made = (await stat(built).catch(() => null))?.mtimeMs;
  if (made === undefined) return true;
  for (const source of sources) if ((await newestIn(source)) > made) return true;
  return false;
}

/** When the youngest file was changed, in milliseconds; 0 where there is none. Tests are not built, so not counted. */
async function newestIn(source: string): Promise<number> {
  const found = await stat(source).catch(() => null);
  if (!found?.isDirectory()) return found?.mtimeMs ?? 0;
  const names = (await readdir(source)).filter((name) => !/\.test\.tsx?$/.test(name));
  // A folder's own time tells of files taken away.
  return Math.max(
    found.mtimeMs,
    ...(await Promise.all(names.map((name) => newestIn(path.join(source, name))))),
  );
}

async function vite(): Promise<typeof Vite> {
  return import('vite').catch((error: unknown) => {
    throw new NoBuilder(
      `The screens cannot be built, for the package vite is missing (${(error as Error).message.split('\n')[0]}). Run: npm ci`,
    );
  });
}
