import { expect, it } from 'vitest';
import { asExample, withExample } from './example.ts';

const SOURCE = `id: watering-flowers
# A comment that stays.
steps:
  - use: greet
  - id: water
    text: Water the flowers
    cues:
      - "i water the flowers"
`;

it('a saying is offered as its words alone', () => {
  expect(asExample("Now, I'm giving the flowers a drink.")).toBe('now i am giving the flowers a drink');
});

it('a saying becomes an example of its step, once, and all else stays', () => {
  const once = withExample(SOURCE, 'water', 'The flowers get a drink.')!; // The step is there.
  expect(once).toBe(`${SOURCE}      - "the flowers get a drink"\n`);
  expect(withExample(once, 'water', 'the flowers get a drink')).toBe(once);
});

it('a shared step gets examples of its own, and a step that is not there none', () => {
  expect(withExample(SOURCE, 'greet', 'Hello there.')).toContain(
    '- use: greet\n    cues:\n      - "hello there"',
  );
  expect(withExample(SOURCE, 'prune', 'I cut them.')).toBeNull();
  expect(withExample('steps: [', 'water', 'I water them.')).toBeNull();
});
