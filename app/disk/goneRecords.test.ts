import { appendFile, mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { GoneRecords } from './goneRecords.ts';

const [FIRST, SECOND] = ['20260131T093000Z-hand-washing', '20260131T103000Z-pulse'] as const;
const NOW = Date.parse('2026-02-01T08:00:00Z');

let root = '';
let gone: GoneRecords;
beforeEach(async () => {
  root = await mkdtemp(path.join(tmpdir(), 'sinkside-gone-'));
  gone = new GoneRecords(root);
});
afterEach(() => rm(root, { recursive: true }));

describe('what was deleted', () => {
  it('leaves no trace where nobody asks for it', async () => {
    await gone.note(FIRST, NOW);
    expect(await readdir(root)).toEqual([]);
    expect(await gone.read()).toEqual([]);
  });

  it('is told until it is forgotten, each once, also where a line broke off', async () => {
    await gone.keep();
    await gone.note(FIRST, NOW);
    await gone.note(FIRST, NOW + 1000);
    await gone.note(SECOND, NOW);
    await appendFile(path.join(root, 'gone.jsonl'), '{"record":"2026');
    await gone.keep();
    expect(await gone.read()).toEqual([
      { record: FIRST, at: '2026-02-01T08:00:01.000Z' },
      { record: SECOND, at: '2026-02-01T08:00:00.000Z' },
    ]);
    await gone.forget(new Set([FIRST]));
    expect((await gone.read()).map(({ record }) => record)).toEqual([SECOND]);
    await gone.stop();
    expect(await readdir(root)).toEqual([]);
  });
});
