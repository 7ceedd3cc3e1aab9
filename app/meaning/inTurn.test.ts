import { expect, it } from 'vitest';
import { heardClearly } from '../language/utterance.ts';
import { inTurn } from './inTurn.ts';

it('tells the judge what was said before each utterance, its last words only', async () => {
  const befores: string[] = [];
  const read = inTurn({
    judge: (utterance, before) => {
      befores.push(before);
      return Promise.resolve({ ...utterance, judged: [] });
    },
  });
  const long = Array.from({ length: 30 }, (_, i) => `w${i}`).join(' ');
  for (const text of ['I wet my hands.', 'Both of them.', long, 'Done.'])
    await read(heardClearly(0, text, 0));
  expect(befores.slice(0, 3)).toEqual(['', 'I wet my hands.', 'I wet my hands. Both of them.']);
  expect(befores[3]!.split(' ')).toHaveLength(24);
  expect(befores[3]!.endsWith('w29')).toBe(true);

  await read(heardClearly(1, 'And now', 0), false);
  await read(heardClearly(1, 'And now the rest.', 0));
  expect(befores.at(-1)).toMatch(/w29 Done\.$/);
});
