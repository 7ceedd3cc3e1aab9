import { readdir } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import type { Random } from '../../app/skills/random.ts';
import { narration } from '../browser/made/made.ts';
import { shipped } from '../rehearsal/making/narrate.ts';
import { rehearse } from '../rehearsal/making/rehearse.ts';
import { planFor, sit } from '../rehearsal/making/sit.ts';

const NARRATIONS = fileURLToPath(new URL('../../skills/narrations', import.meta.url));

/** How able a trainee is, and so which share of the sayings is left out, and which is said too late. */
export const LEVELS = [
  { left: 0.35, late: 0.15 },
  { left: 0.2, late: 0.1 },
  { left: 0.08, late: 0.04 },
  { left: 0, late: 0 },
] as const;

/** A run of the core: what its journal holds. */
export interface MadeRun {
  readonly skill: string;
  readonly variants: Readonly<Record<string, string>>;
  readonly form: string | null;
  readonly events: readonly RehearsalEvent[];
}

/** Runs to fill a school with: of each level some of each skill, and some mock tests. */
export interface MadeRuns {
  readonly skills: readonly string[];
  /** By skill, then level. */
  readonly single: ReadonlyMap<string, readonly (readonly MadeRun[])[]>;
  /** By level. */
  readonly tests: readonly (readonly MadeRun[])[];
}

/** A narration as somebody of that level says it: sayings left out, and said one line too late. */
function varied(says: readonly (string | number)[], level: number, random: Random): (string | number)[] {
  const { left, late } = LEVELS[level] ?? LEVELS[0];
  const said = says.filter(() => random() >= left);
  for (let i = 1; i < said.length; i++)
    if (random() < late) said.splice(i - 1, 2, ...said.slice(i - 1, i + 1).reverse());
  return said;
}

/**
 * Runs narrations of our skills through the core, varied.
 *
 * @param each so many runs of each skill at each level
 * @param skills ids of the skills; all by default
 */
export async function makeRuns(each: number, random: Random, skills?: readonly string[]): Promise<MadeRuns> {
  const names = (await readdir(NARRATIONS)).filter((name) => name.endsWith('.yaml')).sort();
  const told = await Promise.all(names.map((name) => narration(path.basename(name, '.yaml'))));
  // The first of each skill says everything.
  const first = new Map([...told].reverse().map((one) => [one.skill, one]));
  const whole = [...first.values()].filter(({ skill }) => skills?.includes(skill) ?? true);
  const single = new Map<string, MadeRun[][]>();
  for (const { skill, says } of whole) {
    const checklist = shipped(skill);
    const levels: MadeRun[][] = [];
    for (const level of LEVELS.keys()) {
      const runs: MadeRun[] = [];
      for (let n = 0; n < each; n++) {
        const { events } = await rehearse(checklist, varied(says, level, random));
        runs.push({ skill, variants: checklist.variants, form: null, events });
      }
      levels.push(runs);
    }
    single.set(skill, levels);
  }
  const tests: MadeRun[][] = [];
  for (const level of LEVELS.keys()) {
    const runs: MadeRun[] = [];
    for (let n = 0; n < each; n++) runs.push(await makeTest(whole, level, random));
    tests.push(runs);
  }
  return { skills: [...single.keys()], single, tests };
}

/** A mock test of three skills, hand washing first. */
async function makeTest(
  told: readonly Awaited<ReturnType<typeof narration>>[],
  level: number,
  random: Random,
): Promise<MadeRun> {
  const first = told.find(({ skill }) => skill === 'hand-washing');
  const others = told.filter((one) => one !== first);
  const from = Math.floor(random() * (others.length - 1));
  const drawn = [...(first ? [first] : []), ...others.slice(from, from + 2)];
  const plan = planFor(drawn.map(({ skill }) => skill));
  const script = drawn.flatMap(({ says }, i) => [
    i === 0 ? 'I am ready.' : 'Next skill.',
    ...varied(says, level, random),
  ]);
  const { events } = await sit(plan, script);
  return { skill: 'hand-washing', variants: {}, form: plan.form, events };
}
