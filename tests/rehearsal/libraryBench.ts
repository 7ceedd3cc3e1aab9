import { performance } from 'node:perf_hooks';
import { Run } from '../../app/run/run.ts';
import { openLibrary, shelfOf } from '../../app/library/library.ts';
import { drawTest } from '../../app/run/testPlan.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { loadNarrations } from '../speech/narration.ts';
import { fixed, table } from '../speech/bench/table.ts';
import { utterance } from './making/narrate.ts';

/**
 * What an utterance costs in a mock test drawn from libraries of 24, 240 and 2,400 skills: it must grow with the skill that is
 * open, not with the library. The same sayings are said to the same five skills each time; sizes take turns, so that a
 * machine that warms up or is busy treats them alike.
 */
const SIZES = [24, 240, 2400];
const ROUNDS = 7;

const shelf = shelfOf(await openLibrary());
const skillsFor = (size: number): Skill[] =>
  Array.from({ length: size }, (_, i) => {
    const skill = shelf.skills[i % shelf.skills.length]!;
    const copy = Math.floor(i / shelf.skills.length);
    return copy === 0 ? skill : { ...skill, id: `${skill.id}-copy-${copy}` };
  });
const pool = shelf.skills.map(({ id }) => id);
const form = {
  schema: 1 as const, id: 'bench', title: 'Bench', skills: Math.min(5, pool.length), pool, weights: {}, exclude: [], apart: [], rules: 'practice',
}; // prettier-ignore
const sayings = (await loadNarrations()).slice(0, 12).flatMap(({ lines }) => lines.map(({ say }) => say));

const opening = new Map<number, number[]>(SIZES.map((size) => [size, []]));
const costs = new Map<number, number[]>(SIZES.map((size) => [size, []]));
for (let round = 0; round < ROUNDS; round++) {
  for (const size of SIZES) {
    const library = { ...shelf, skills: skillsFor(size), forms: [form] };
    const before = performance.now();
    const plan = drawTest(library, 'bench', round);
    opening.get(size)!.push(performance.now() - before);
    const run = new Run(plan, (heard) => Promise.resolve(heard));
    const from = performance.now();
    let now = 0;
    for (const [id, say] of sayings.entries()) {
      const heard = utterance(say, now, id);
      await run.hear(heard);
      now = heard.end + 1;
    }
    // The first round warms up.
    if (round > 0) costs.get(size)!.push((performance.now() - from) / sayings.length);
  }
}

const middle = (numbers: readonly number[]): number =>
  [...numbers].sort((a, b) => a - b)[numbers.length >> 1]!;
const least = middle(costs.get(SIZES[0]!)!);
console.log(
  table(
    ['skills', 'draw, ms', 'ms an utterance', 'beside the smallest'],
    SIZES.map((size) => {
      const cost = middle(costs.get(size)!);
      return [
        String(size),
        fixed(middle(opening.get(size)!), 1),
        fixed(cost, 3),
        `${fixed(100 * (cost / least - 1), 1)} %`,
      ];
    }),
  ),
);
