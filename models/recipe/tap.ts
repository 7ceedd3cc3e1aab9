import { writeFileSync } from 'node:fs';
import { makeNoise } from '../../tests/speech/noise.ts';

// Writes running water as raw 32-bit floats:  npx tsx models/recipe/tap.ts SAMPLES FILE
const [samples, file] = process.argv.slice(2);
if (!samples || !file) throw new Error('usage: npx tsx models/recipe/tap.ts SAMPLES FILE');
writeFileSync(file, new Uint8Array((await makeNoise('tap', Number(samples), 1, 'joe')).buffer));
