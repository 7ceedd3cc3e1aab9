import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { KINDS, start, tryOne, type Start } from './mutations.ts';

/** `npm run bench:mutations` tries ten thousand. */
const EACH = 50;

let from: Start;
beforeAll(async () => {
  from = await start();
});
afterAll(() => from.remove());

describe('what was damaged or made up', () => {
  it.each(KINDS)('in its %s is refused whole, or does no harm', async (kind) => {
    const fates = [];
    for (let seed = 0; seed < EACH; seed++) fates.push(await tryOne(from, kind, seed));
    expect(fates).toHaveLength(EACH);
    if (kind === 'bytes') expect(fates.filter((fate) => fate === 'tampered' || fate === 'truncated').length).toBeGreaterThan(EACH / 4);
  }); // prettier-ignore
});
