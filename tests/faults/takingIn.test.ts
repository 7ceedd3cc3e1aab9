import type * as Disk from 'node:fs/promises';
import { mkdtemp } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import type { SkillFolder } from '../../app/library/skillFolder.ts';
import {
  openMachine,
  givenSkills,
  machine,
  NOW,
  person,
  rehearsed,
  treeOf,
  verdict,
} from '../bundles/machine.ts';

/** The disk, which can stop at any step, as for a program that is killed: from then on nothing is done any more, no tidying up either. */
const disk = vi.hoisted(() => ({ stopsAfter: Infinity, steps: 0 }));
vi.mock('node:fs/promises', async (original) => {
  const real = await original<Record<string, unknown>>();
  const step = (work: (...args: unknown[]) => unknown) => (...args: unknown[]) => {
    disk.steps += 1;
    return disk.steps > disk.stopsAfter ? Promise.reject(new Error('killed')) : work(...args);
  }; // prettier-ignore
  return Object.fromEntries(
    Object.entries(real).map(([name, value]) => [
      name,
      typeof value === 'function' ? step(value as (...args: unknown[]) => unknown) : value,
    ]),
  );
});

let folder = '';
let skills: SkillFolder;
let fs: typeof Disk;
const bundle = (): string => path.join(folder, 'bundle.zip');
const data = (): string => path.join(folder, 'data');

beforeAll(async () => {
  fs = await vi.importActual('node:fs/promises');
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-killed-'));
  skills = await givenSkills();
  const theirs = await machine(skills);
  const kim = await person(theirs, 'Kim');
  const reviewed = await rehearsed(theirs);
  await theirs.rehearsals.pack(reviewed);
  await fs.cp(theirs.data, path.join(folder, 'start'), { recursive: true });
  await fs.rm(path.join(folder, 'start', 'people.json'));
  await theirs.rehearsals.addReview(reviewed, [verdict('greet')], NOW);
  await rehearsed(theirs, { trainee: kim.id, startedAt: '2026-02-02T09:30:00Z' });
  await rehearsed(theirs, { trainee: kim.id, startedAt: '2026-02-03T09:30:00Z' });
  await theirs.carrier.make(bundle(), { class: null, since: -Infinity });
  await theirs.remove();
});
afterAll(() => fs.rm(folder, { recursive: true }));

/** Takes the bundle in by a program that is killed after so many steps. Tells what is there after the next start, and whether it was killed. */
async function takenIn(stopsAfter: number): Promise<{ tree: string; isKilled: boolean }> {
  await fs.rm(data(), { recursive: true, force: true });
  await fs.cp(path.join(folder, 'start'), data(), { recursive: true });
  const { carrier } = await openMachine(data(), { skills });
  Object.assign(disk, { stopsAfter, steps: 0 });
  const isKilled = await carrier.takeIn(bundle()).then(
    () => false,
    () => true,
  );
  disk.stopsAfter = Infinity;
  const next = await openMachine(data(), { skills });
  await next.carrier.goOn();
  await next.rehearsals.tidy();
  return { tree: JSON.stringify(await treeOf(data())), isKilled };
}

it('takes in all or nothing, at whatever step it is killed', async () => {
  await fs.cp(path.join(folder, 'start'), data(), { recursive: true });
  const nothing = JSON.stringify(await treeOf(data()));
  const all = (await takenIn(Infinity)).tree;
  expect(all).not.toBe(nothing);
  const became = { nothing: 0, all: 0 };
  for (let steps = 0; ; steps++) {
    const { tree, isKilled } = await takenIn(steps);
    expect([nothing, all], `killed after ${steps} steps`).toContain(tree);
    became[tree === all ? 'all' : 'nothing'] += 1;
    if (!isKilled) break;
  }
  // Most steps come before it is settled; some after.
  expect(became.nothing).toBeGreaterThan(30);
  expect(became.all).toBeGreaterThan(5);
});
