import { execFile } from 'node:child_process';
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  realpathSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { readdir } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { Ajv } from 'ajv';
import { afterAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { z } from 'zod';
import { buildDesktop, DESKTOP_MAIN, RENDERER } from '../../app/cli/build.ts';
import { packBeside, putInPlace } from '../../app/records/packing/pack.ts';
import { catalog, differenceOf } from '../../models/catalog.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const source: unknown = parse(readFileSync(path.join(ROOT, 'electron-builder.yml'), 'utf8'));
const config = z
  .looseObject({
    npmRebuild: z.boolean(),
    extraMetadata: z.looseObject({ main: z.string() }),
    files: z.array(z.string()),
    asarUnpack: z.array(z.string()),
    win: z.object({ target: z.string() }),
    mac: z.looseObject({
      target: z.string(),
      entitlements: z.string(),
      entitlementsInherit: z.string(),
      extendInfo: z.object({ NSMicrophoneUsageDescription: z.string() }),
    }),
    linux: z.looseObject({ target: z.array(z.string()) }),
  })
  .parse(source);

/** Whether a pattern of the kinds used in that file (`*`, `**`) matches a path. */
function matches(pattern: string, file: string): boolean {
  const source = pattern
    .split(/(\*\*|\*)/)
    .map((part) =>
      part.startsWith('*') ? { '**': '.*', '*': '[^/]*' }[part] : part.replace(/[.+^$()[\]{}|\\?]/g, '\\$&'),
    );
  return new RegExp(`^${source.join('')}$`).test(file);
}
/** Whether a file is packed: the last pattern that matches decides. */
function isPacked(file: string): boolean {
  const deciding = config.files.findLast((pattern) => matches(pattern.replace(/^!/, ''), file));
  return deciding !== undefined && !deciding.startsWith('!');
}

async function filesIn(folder: string): Promise<string[]> {
  const entries = await readdir(path.join(ROOT, folder), { recursive: true, withFileTypes: true });
  return entries
    .filter((entry) => entry.isFile())
    .map((entry) => path.relative(ROOT, path.join(entry.parentPath, entry.name)).split(path.sep).join('/'));
}

const folder = mkdtempSync(path.join(tmpdir(), 'sinkside-package-'));
afterAll(() => rmSync(folder, { recursive: true }));

describe('electron-builder.yml', () => {
  it('is one that electron-builder takes', () => {
    const require = createRequire(
      realpathSync(path.join(ROOT, 'node_modules/electron-builder/package.json')),
    );
    const schema = JSON.parse(readFileSync(require.resolve('app-builder-lib/scheme.json'), 'utf8')) as object;
    const check = new Ajv({ strict: false, allErrors: true, logger: false }).compile(schema);
    check(source);
    expect(check.errors ?? []).toEqual([]);
  });

  it('makes the packages of the three systems, and compiles nothing', () => {
    expect(config.win.target).toBe('nsis');
    expect(config.mac.target).toBe('dmg');
    expect(config.linux.target).toEqual(['AppImage', 'deb']);
    expect(config.npmRebuild).toBe(false);
    expect(config.mac.extendInfo.NSMicrophoneUsageDescription).toMatch(/stays on this computer/);
  });

  it('names files that are there, or that the build makes', async () => {
    const there = [...(await filesIn('skills')), ...(await filesIn('models')), 'package.json', 'LICENSE'];
    for (const pattern of [...config.files, ...config.asarUnpack]) {
      if (pattern.startsWith('!')) continue;
      const made = /^dist\/(desktop|renderer)\//.exec(pattern)?.[1];
      if (made !== undefined)
        expect([DESKTOP_MAIN, RENDERER].some((name) => name.startsWith(path.join(ROOT, 'dist', made)))).toBe(
          true,
        );
      else
        expect(
          there.filter((file) => matches(pattern, file)),
          pattern,
        ).not.toEqual([]);
    }
    expect(path.join(ROOT, config.extraMetadata.main)).toBe(DESKTOP_MAIN);
    for (const name of [config.mac.entitlements, config.mac.entitlementsInherit]) {
      expect(readFileSync(path.join(ROOT, name), 'utf8')).toContain('com.apple.security.device.audio-input');
    }
  });

  it('packs every skill, and neither models nor packages nor sources', async () => {
    for (const file of await filesIn('skills')) {
      expect(isPacked(file), file).toBe(
        /^skills\/(((rules|forms|narrations)\/)?[^/]+\.yaml|demo\/[^/]+)$/.test(file),
      );
    }
    for (const model of catalog()) {
      for (const file of model.files)
        expect(isPacked(`models/installed/${model.id}/${file.path}`)).toBe(false);
      // The build copies what comes with the program there, where the built code looks for it.
      const difference = differenceOf(model);
      if (difference) expect(isPacked(`dist/desktop/${model.id}/${difference.file}`)).toBe(true);
    }
    for (const file of [
      'node_modules/zod/index.js',
      'app/host/server.ts',
      'tests/check.mjs',
      '.cache/x',
      'dist/packages/x',
    ])
      expect(isPacked(file), file).toBe(false);
  });
});

/** Makes the folder of a rehearsal with packed sound, which the built shell must unpack with what it holds of libFLAC. */
async function keepPackedSound(rehearsal: string): Promise<void> {
  mkdirSync(rehearsal, { recursive: true });
  writeFileSync(path.join(rehearsal, 'journal.jsonl'), '');
  writeFileSync(path.join(rehearsal, 'sound.wav'), Buffer.alloc(32_044, 3));
  const packed = await packBeside(rehearsal, new AbortController().signal);
  await putInPlace(rehearsal, packed!); // There is sound in it.
}

describe('the built shell', () => {
  it('runs from what is packed alone, and serves the room until its window closes', async () => {
    await buildDesktop({ err: () => undefined });
    const packed = path.join(folder, 'app');
    mkdirSync(path.join(packed, 'dist/renderer'), { recursive: true });
    writeFileSync(path.join(packed, 'dist/renderer/index.html'), '<!doctype html>');
    for (const file of ['package.json', ...(await filesIn('dist/desktop')), ...(await filesIn('skills'))]) {
      if (isPacked(file)) cpSync(path.join(ROOT, file), path.join(packed, file));
    }
    await keepPackedSound(path.join(folder, 'data/rehearsals/20260131T093000Z-hand-washing'));
    const main = path.join(packed, config.extraMetadata.main);
    const standIn = fileURLToPath(new URL('standIn.mjs', import.meta.url));
    const env: NodeJS.ProcessEnv = { PATH: process.env['PATH'], SINKSIDE_DATA: path.join(folder, 'data') };
    const { stdout, stderr } = await promisify(execFile)(process.execPath, ['--import', standIn, main], {
      env,
    });
    expect(stderr).toBe('');
    const said = z
      .object({
        asked: z.record(z.string(), z.number()),
        skills: z.number(),
        preload: z.string(),
        model: z.string(),
      })
      .parse(JSON.parse(stdout));
    expect(Object.values(said.asked)).toEqual([200, 200, 200, 200, 200, 200]);
    const yaml = (await readdir(path.join(ROOT, 'skills'))).filter((name) => name.endsWith('.yaml'));
    expect(said.skills).toBe(yaml.filter((name) => !['lexicon.yaml', 'care.yaml'].includes(name)).length);
    expect(existsSync(said.preload)).toBe(true);
    // A model that lay in the program's folder would not be looked for there.
    expect(said.model).toMatch(/is not here yet/);
  }, 60_000);
});
