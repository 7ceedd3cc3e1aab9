import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { parse } from 'yaml';
import { z } from 'zod';
import { asScript } from './narration.ts';
import { wavBytes } from './sound.ts';
import { synthesize } from './synthesize.ts';

/**
 * Speaks skills/demo/hand-washing.yaml into the recording beside it, as µ-law, which halves it. Run after a change of the
 * script, and commit both: npx tsx tests/speech/recordDemo.ts
 */
const Demo = z.object({ lines: z.array(z.object({ say: z.string(), pause: z.number().default(1.2) })) });

const folder = new URL('../../skills/demo/', import.meta.url);
const { lines } = Demo.parse(parse(readFileSync(new URL('hand-washing.yaml', folder), 'utf8')));
const script = asScript({
  id: 'demo',
  note: '',
  lines: lines.map((line) => ({ ...line, by: 'trainee' as const })),
});
const { samples } = await synthesize(script, 'flite-slt');
const output = new URL('hand-washing.wav', folder).pathname;
execFileSync('ffmpeg', ['-y', '-loglevel', 'error', '-f', 'wav', '-i', '-', '-c:a', 'pcm_mulaw', output], {
  input: wavBytes(samples),
});
console.log(`${output}: ${(samples.length / 16_000).toFixed(1)} s`);
