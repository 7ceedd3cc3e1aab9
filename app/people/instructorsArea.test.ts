import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { IDLE, InstructorsArea, TooSoon, WrongPassphrase } from './instructorsArea.ts';

const PASSPHRASE = 'seven pale lemons';
let data = '';
let now = Date.parse('2026-03-01T08:00:00Z');
let area: InstructorsArea;
beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-area-'));
  area = new InstructorsArea(data, () => now);
});
afterEach(() => rm(data, { recursive: true }));

describe("the instructor's area", () => {
  it('is open to all until a passphrase is set, and then to who enters it', async () => {
    expect(await area.isOpenTo('')).toBe(true);
    const token = await area.set(PASSPHRASE);
    expect(await area.isOpenTo('')).toBe(false);
    expect(await area.isOpenTo(token)).toBe(true);
    expect(await readFile(path.join(data, 'instructor.json'), 'utf8')).not.toContain('lemons');
    await expect(area.enter('eight pale lemons')).rejects.toThrow(WrongPassphrase);
    await expect(area.enter(PASSPHRASE)).rejects.toThrow(TooSoon);
    now += 1000;
    expect(await area.isOpenTo(await area.enter(PASSPHRASE))).toBe(true);
  });

  it('lets only one of many guesses at once be looked at', async () => {
    await area.set(PASSPHRASE);
    const tries = await Promise.allSettled(['a', 'b', PASSPHRASE].map((text) => area.enter(text)));
    // Which comes first is not ours to say.
    const tooSoon = tries.filter((each) => each.status === 'rejected' && each.reason.name === 'TooSoon');
    expect(tooSoon).toHaveLength(2);
  });

  it('closes after half an hour without use, when it is left, and when the passphrase is changed', async () => {
    const token = await area.set(PASSPHRASE);
    now += IDLE - 1;
    expect(area.isIn(token)).toBe(true);
    now += IDLE - 1;
    expect(area.isIn(token)).toBe(true);
    now += IDLE;
    expect(area.isIn(token)).toBe(false);
    expect(area.isIn(token)).toBe(false);
    const [left, old] = [await area.enter(PASSPHRASE), await area.enter(PASSPHRASE)];
    area.leave(left);
    expect(area.isIn(left)).toBe(false);
    expect(area.isIn(old)).toBe(true);
    await area.set('nine green pears');
    expect(area.isIn(old)).toBe(false);
  });

  it('is reset by deleting its file, and stays closed where that is damaged', async () => {
    const file = path.join(data, 'instructor.json');
    await area.set(PASSPHRASE);
    await writeFile(file, '{"scheme":"scrypt","N":1}');
    expect(await area.isOpenTo('')).toBe(false);
    await expect(area.enter(PASSPHRASE)).rejects.toThrow(/damaged.*Delete it/);
    await rm(file);
    expect(await area.isOpenTo('')).toBe(true);
  });
});
