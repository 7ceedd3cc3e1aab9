import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Buckets } from './limits.ts';

describe('a limit', () => {
  it('never lets more through than so many at once and so many a second, and tells truly how long to wait', () => {
    const limit = { atOnce: 5, perSecond: 2 };
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 2000 }), { maxLength: 60 }), (pauses) => {
        let now = 0;
        const buckets = new Buckets(limit, () => now);
        let passed = 0;
        for (const pause of pauses) {
          now += pause;
          const wait = buckets.take('a');
          if (wait === 0) passed += 1;
          else {
            // A moment earlier it would still be refused: it is told in whole seconds.
            expect(wait).toBe(1);
          }
        }
        expect(passed).toBeLessThanOrEqual(limit.atOnce + (now / 1000) * limit.perSecond + 1e-9);
        now += 1000 * buckets.wait('a');
        expect(buckets.take('a')).toBe(0);
      }),
    );
  });

  it('is each one’s own, and forgets those who have not asked for long', () => {
    let now = 0;
    const buckets = new Buckets({ atOnce: 1, perSecond: 1 }, () => now);
    expect([buckets.take('a'), buckets.take('b'), buckets.take('a')]).toEqual([0, 0, 1]);
    for (let n = 0; n < 10_001; n++) {
      now += 1;
      buckets.take(String(n));
    }
    expect(buckets.take('a')).toBe(0);
  });
});
