import { execFile } from 'node:child_process';
import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { callCli } from '../../../tests/callCli.ts';
import { openLibrary } from '../../library/library.ts';
import { BEFORE, fold } from '../../marking/state.ts';
import { Rehearsals } from '../../records/rehearsals.ts';

const DEMO = fileURLToPath(new URL('../../../skills/demo/hand-washing.wav', import.meta.url));
/** Seconds of it that are taken in. */
const SECONDS = 12;

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-import-'));
});
afterAll(() => rm(folder, { recursive: true }));

it('keeps a phone’s recording with its sound and marks, like a rehearsal', async () => {
  const recording = path.join(folder, 'phone.m4a');
  const cut = ['-loglevel', 'error', '-i', DEMO, '-t', String(SECONDS), '-c:a', 'aac', recording];
  await promisify(execFile)('ffmpeg', cut);
  const data = path.join(folder, 'data');
  const { code, out, err } = await callCli(
    'review',
    'import',
    recording,
    '--skill',
    'hand-washing',
    '--data',
    data,
  );
  expect([code, err]).toEqual([0, '']);
  const rehearsals = new Rehearsals(data, await openLibrary());
  const [kept, ...others] = await rehearsals.list();
  expect(others).toEqual([]);
  expect(kept).toMatchObject({ skill: 'hand-washing', state: 'ended', version: 1, note: '' });
  expect(out).toContain(`Kept as ${kept?.id}: ${kept?.heard} of ${kept?.of} steps heard`);
  const { events, samples } = await rehearsals.read(kept?.id ?? '');
  expect(Math.abs(samples / 16_000 - SECONDS)).toBeLessThan(0.3);
  expect(events.reduce(fold, BEFORE).credits['greet']).toBeDefined();
  // A person's review is taken at once.
  const by = {
    by: 'R. Ortega',
    madeAt: '2026-11-28T08:00:00.000Z',
    skill: 0,
    reason: '',
    heardAt: null,
    blind: false,
  };
  await rehearsals.addReview(kept?.id ?? '', [{ type: 'reviewed', ...by, step: 'greet', verdict: 'yes' }]);
});

it('keeps nothing of what is no sound, and says what was wrong', async () => {
  const data = path.join(folder, 'none');
  const text = fileURLToPath(import.meta.url);
  const { code, err } = await callCli('review', 'import', text, '--skill', 'hand-washing', '--data', data);
  expect(code).toBe(3);
  expect(err).not.toBe('');
  expect(await readdir(path.join(data, 'rehearsals')).catch(() => [])).toEqual([]);
  expect((await callCli('review', 'import', text, '--data', data)).code).toBe(2);
  expect((await callCli('review', 'juggle', text)).code).toBe(2);
});
