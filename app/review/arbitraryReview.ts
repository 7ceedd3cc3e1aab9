import fc from 'fast-check';
import type { ReviewEvent } from '../marking/events.ts';

/** Any review event of a few steps and skills, for property tests. */
export const reviewEvents = (steps: readonly string[]): fc.Arbitrary<ReviewEvent> => {
  const person = { by: fc.constant('An Instructor'), madeAt: fc.constant('2026-11-30T09:00:00.000Z') };
  const step = fc.constantFrom(...steps, '__proto__', 'gone');
  const skill = fc.nat(2);
  const moment = fc.double({ min: 0, max: 600, noNaN: true });
  return fc.oneof(
    fc.record({
      type: fc.constant('reviewed' as const),
      ...person,
      skill,
      step,
      verdict: fc.constantFrom('yes' as const, 'no' as const, 'unsure' as const),
      reason: fc.string({ maxLength: 20 }),
      heardAt: fc.option(moment),
      blind: fc.boolean(),
    }),
    fc.record(
      {
        type: fc.constant('measured' as const),
        ...person,
        skill,
        step,
        value: fc.integer(),
        byRehearser: fc.constant(true as const),
      },
      { requiredKeys: ['type', 'by', 'madeAt', 'skill', 'step', 'value'] },
    ),
    fc.record({
      type: fc.constant('commented' as const),
      ...person,
      at: moment,
      text: fc.constant('Louder.'),
    }),
    fc.record({ type: fc.constant('signed off' as const), ...person, skill }),
  );
};
