import { mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { ReadingTaken } from '../bench/readings/taken.ts';
import { BenchReadings } from './benchReadings.ts';

const KIM = '11111111-1111-4111-8111-111111111111';
const LEE = '22222222-2222-4222-8222-222222222222';
const reading = (recorded: number, day = 1): ReadingTaken => ({
  name: 'Pulse',
  unit: 'beats a minute',
  recorded,
  truth: 72,
  stretch: null,
  takenAt: new Date(Date.UTC(2026, 10, day)).toISOString(),
});

let data = '';
let bench: BenchReadings;
beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-bench-'));
  bench = new BenchReadings(data);
});
afterEach(() => rm(data, { recursive: true }));
const recorded = async (trainee: string) => (await bench.of(trainee)).map((each) => each.recorded);

describe('readings of the bench', () => {
  it('are kept person by person, all of those added at once', async () => {
    await Promise.all([1, 2, 3].map((n) => bench.add(KIM, [reading(n)])));
    await bench.add(LEE, [reading(9)]);
    expect([await recorded(KIM), await recorded(LEE)]).toEqual([[1, 2, 3], [9]]);
  });

  it('go with the person, or with their age, and leave no file', async () => {
    await bench.add(KIM, [reading(1, 1), reading(2, 5)]);
    await bench.add(LEE, [reading(9, 1)]);
    for (const trainee of [KIM, LEE]) await bench.deleteBefore(trainee, Date.UTC(2026, 10, 3));
    expect([await recorded(KIM), await recorded(LEE)]).toEqual([[2], []]);
    await bench.delete(KIM);
    await bench.delete(KIM);
    expect(await readdir(path.join(data, 'bench'))).toEqual([]);
  });

  it('that cannot be read count as none, and the next one is kept', async () => {
    await bench.add(KIM, [reading(1)]);
    await writeFile(path.join(data, 'bench', `${KIM}.json`), '[{"recorded": ');
    expect(await recorded(KIM)).toEqual([]);
    await bench.add(KIM, [reading(2)]);
    expect(await recorded(KIM)).toEqual([2]);
  });

  it('are of nobody whose id could be a path', async () => {
    await expect(bench.of('../people')).rejects.toThrow();
    await expect(bench.add('../people', [reading(1)])).rejects.toThrow();
  });
});
