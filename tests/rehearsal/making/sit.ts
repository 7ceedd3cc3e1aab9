import { Run } from '../../../app/run/run.ts';
import { openLibrary, shelfOf } from '../../../app/library/library.ts';
import type { Command } from '../../../app/language/commands.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { markTest } from '../../../app/run/mockTest.ts';
import type { RunState } from '../../../app/run/runState.ts';
import { findNumbers } from '../../../app/language/numbers.ts';
import type { Rules } from '../../../app/skills/skill.ts';
import { pickTest, type TestPlan } from '../../../app/run/testPlan.ts';
import { utterance } from './narrate.ts';

export const SHELF = shelfOf(await openLibrary());

/** A test of these skills by the strict rules, without time to look around. */
export const planFor = (ids: readonly string[], rules: Partial<Rules> = {}): TestPlan => {
  const plan = pickTest(SHELF, ids, 'strict');
  const own = { ...plan.rules, lookAround: 0, ...rules };
  return { ...plan, rules: own, checklists: plan.checklists.map((each) => ({ ...each, rules: own })) };
};
type Happening = string | number | { readonly press: Command };

/** Says lines to a test; numbers are silences in seconds, two stand between lines otherwise. */
export async function sit(plan: TestPlan, script: readonly Happening[]) {
  const events: RehearsalEvent[] = [];
  const run = new Run(
    plan,
    (heard) => Promise.resolve(heard),
    (some) => events.push(...some),
  );
  const seen: RunState[] = [];
  let now = 0;
  for (const [id, happening] of script.entries()) {
    if (typeof happening === 'number') now += happening;
    else if (typeof happening === 'string') {
      const numbers = findNumbers(happening.split(' ')).map((n) => ({ ...n, share: 1, rivals: [] }));
      const heard = { ...utterance(happening, now, id), numbers };
      await run.hear(heard);
      now = heard.end + 2;
    } else await run.command(happening.press, now);
    seen.push(run.soFar);
  }
  const test = await run.end(now);
  seen.push(test);
  return { test, events, seen, now, result: markTest(plan.checklists, plan.rules, test) };
}
