import { expect, it } from 'vitest';
import { planFor, sit } from '../../tests/rehearsal/making/sit.ts';
import { markTest } from '../../app/run/mockTest.ts';
import { measuredInTest } from './measuredInTest.ts';

// Within 2 of what was measured: common practice, no source.
it.each([
  [18, 1, 'heard'],
  [19, 1, 'not heard'],
  // Of another skill of the test.
  [19, 0, 'heard'],
])('a number measured as %d in skill %d leaves a recorded 16 %s', async (value, skill, expected) => {
  const plan = planFor(['hand-washing', 'respirations']);
  const { test } = await sit(plan, [
    ...['I am ready.', 'Next skill.', 'Starting now.', 61, 'Done.'],
    ...['I wash my hands.', 'I write down 16 respirations.'],
  ]);
  const by = { by: 'a partner', madeAt: '2026-11-30T09:00:00.000Z', byRehearser: true as const };
  const journal = [{ type: 'measured' as const, ...by, skill, step: 'record', value }];
  const { skills } = markTest(plan.checklists, plan.rules, test, measuredInTest(plan, test, journal));
  expect(skills[1]?.steps.find(({ id }) => id === 'record')?.outcome).toBe(expected);
});
