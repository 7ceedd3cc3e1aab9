import { parseArgs } from 'node:util';
import { KINDS, start, tryOne, type Fate } from './mutations.ts';

/** Prints what becomes of so many damaged bundles and journals: `npm run bench:mutations -- --count 10000 --seed 0`. */
const { values } = parseArgs({ options: { count: { type: 'string' }, seed: { type: 'string' } } });
const count = Number(values.count ?? 10_000);
const first = Number(values.seed ?? 0);

const from = await start();
const began = Date.now();
let failed = 0;
try {
  for (const kind of KINDS) {
    const fates = new Map<Fate | 'FAILED', number>();
    for (let n = 0; n < count / KINDS.length; n++) {
      const fate = await tryOne(from, kind, first + n).catch((error: unknown) => {
        failed += 1;
        console.error(`${kind}, seed ${first + n}: ${error instanceof Error ? error.stack : String(error)}`);
        return 'FAILED' as const;
      });
      fates.set(fate, (fates.get(fate) ?? 0) + 1);
    }
    const told = [...fates].sort(([, a], [, b]) => b - a).map(([fate, times]) => `${fate} ${times}`);
    console.log(`${kind}: ${told.join(', ')}`);
  }
} finally {
  await from.remove();
}
console.log(`${count} in ${((Date.now() - began) / 1000).toFixed(0)} s, ${failed} failed`);
process.exitCode = failed > 0 ? 1 : 0;
