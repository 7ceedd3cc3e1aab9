import { describe, expect, it } from 'vitest';
import { Run } from '../../app/run/run.ts';
import { practiceOf } from '../../app/run/testPlan.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { shipped } from './making/narrate.ts';
import { planFor, sit } from './making/sit.ts';

/** What need not be said again. Common practice, no source. */

const IDENTITY = ['What is your full name?', 'I check that against your wristband.'];
const HANDS = 'I wash my hands.';
const outcomesOf = (result: Awaited<ReturnType<typeof sit>>['result'], skill: number) =>
  Object.fromEntries(result.skills[skill]!.steps.map((step) => [step.id, step]));

describe('in a mock test', () => {
  // Both with Mrs. Alder by their cards, then one with Mr. Finch.
  const plan = planFor(['mouth-care', 'side-positioning', 'denture-care']);

  it('identity carries over to the same resident, hands into the next skill, and the result says from where', async () => {
    const { result, events } = await sit(plan, [
      'I am ready.', ...IDENTITY, 'I put on clean gloves.', 'I take off my gloves.', HANDS, 'Next skill.', 'Knock, knock.',
    ]); // prettier-ignore
    const second = outcomesOf(result, 1);
    expect(second['ask-name']).toMatchObject({ outcome: 'heard', manner: 'carried over' });
    expect(second['ask-name']!.note).toMatch(/^Carried over from .+, 0:0\d\.$/);
    expect(second['check-band']).toMatchObject({ outcome: 'heard', manner: 'carried over' });
    expect(second['hands-before']).toMatchObject({ outcome: 'heard', manner: 'carried over' });
    expect(second['hands-after']!.outcome).toBe('not heard');
    expect(events.filter(({ type }) => type === 'carried')).toHaveLength(3);
  });

  it('ends with the next resident, with dirty gloves, and with the skill after the next', async () => {
    const other = await sit(plan, [
      'I am ready.',
      ...IDENTITY,
      HANDS,
      'Next skill.',
      'Next skill.',
      'Knock, knock.',
    ]);
    const third = outcomesOf(other.result, 2);
    expect(third['ask-name']!.outcome).toBe('not heard');
    expect(third['hands-before']!.outcome).toBe('not heard');

    const dirty = await sit(plan, [
      'I am ready.',
      HANDS,
      HANDS,
      'I put on clean gloves.',
      'I take off my gloves.',
      'Next skill.',
      'Knock, knock.',
    ]);
    expect(outcomesOf(dirty.result, 1)['hands-before']!.outcome).toBe('not heard');
  });

  it('takes hands washed in the hand-washing skill only where the scrub was long enough', async () => {
    const after = planFor(['hand-washing', 'respirations']);
    const wash = (seconds: number) => [
      'I am ready.', 'I take some soap.', 'I am scrubbing all surfaces of my hands with friction.', seconds,
      'Rinsing from the wrists down to the fingertips.', 'Next skill.', 'Knock, knock.',
    ]; // prettier-ignore
    const before = async (seconds: number) =>
      outcomesOf((await sit(after, wash(seconds))).result, 1)['hands-before']!;
    expect(await before(24)).toMatchObject({
      outcome: 'heard',
      note: expect.stringMatching(/^Carried over from Washing hands|^Carried over from Hand/),
    });
    expect((await before(12)).outcome).toBe('not heard');
  });

  it('is no denial where the band need not be read again, and a washing at the end is the later one', async () => {
    const { result } = await sit(plan, [
      'I am ready.', ...IDENTITY, HANDS, HANDS, 'Next skill.', 'The band I need not read again.', 'I turn you onto your side.',
      'I put a pillow behind your back.', 'I put the call light within reach.', HANDS,
    ]); // prettier-ignore
    const second = outcomesOf(result, 1);
    expect(second['check-band']).toMatchObject({ outcome: 'heard', manner: 'carried over' });
    expect(second['hands-before']).toMatchObject({ manner: 'carried over' });
    expect(second['hands-after']!.outcome).toBe('heard');
  });
});

it('a rehearsal of one skill may begin with hands just washed and the resident known', () => {
  const breaths = shipped('respirations');
  const opened = (continued: boolean) =>
    new Run(practiceOf(breaths, continued), (heard) => Promise.resolve(heard));
  const outcome = (continued: boolean) => {
    const { steps } = markRehearsal(breaths, opened(continued).state);
    return Object.fromEntries(steps.map((step) => [step.id, step.manner]));
  };
  expect(outcome(true)).toMatchObject({
    'ask-name': 'carried over',
    'check-band': 'carried over',
    'hands-before': 'carried over',
  });
  expect(outcome(false)['ask-name']).toBeNull();
  expect(markRehearsal(breaths, opened(true).state).result.heard).toBe(3);
});
