import { mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { DEFAULT_SETTINGS } from './settings.ts';
import { readSettings, writeSettings } from './settingsFile.ts';

let data = '';
let warnings: string[] = [];
const read = () => readSettings(data, (message) => warnings.push(message));

beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-settings-'));
  warnings = [];
});
afterEach(() => rm(data, { recursive: true }));

it('are the defaults before anything was set, and what was set afterwards', async () => {
  expect(await read()).toEqual(DEFAULT_SETTINGS);
  const set = { ...DEFAULT_SETTINGS, skill: 'hand-washing', variants: { tap: 'pedal' }, volume: 0.3 };
  await writeSettings(data, set);
  expect(await read()).toEqual(set);
  expect(await readdir(data)).toEqual(['settings.json']);
});

it('written by an older version, with fields missing, take the defaults for those', async () => {
  await writeFile(
    path.join(data, 'settings.json'),
    '{"style":"silent","processing":{"noiseSuppression":true}}',
  );
  expect(await read()).toMatchObject({
    style: 'silent',
    voice: true,
    processing: { noiseSuppression: true, echoCancellation: false },
  });
  expect(warnings).toEqual([]);
});

it.each(['{"style":', '{"style":"loud"}', ''])(
  'damaged, as %j, are put aside and said to be',
  async (text) => {
    await writeFile(path.join(data, 'settings.json'), text);
    expect(await read()).toEqual(DEFAULT_SETTINGS);
    expect(warnings.join()).toMatch(/settings\.json was damaged/);
    expect(await readdir(data)).toEqual(['settings.damaged.json']);
  },
);
