import { readFileSync } from 'node:fs';
import { Judge } from '../../app/meaning/judge.ts';
import { openLibrary } from '../../app/records/library.ts';
import { heardClearly } from '../../app/rehearsal/utterance.ts';
const j = await Judge.open({ network: readFileSync('models/judge/judge.onnx'), tokenizer: readFileSync('models/judge/tokenizer.json') });
const lib = await openLibrary();
const steps = lib.skills.get(process.argv[2]!)!.steps;
let t = performance.now();
await j.expect(steps); console.log('expect', performance.now() - t);
for (const say of process.argv.slice(3)) { t = performance.now(); const u = await j.judge(heardClearly(0, say, 0)); console.log(say, JSON.stringify(u.judged), performance.now() - t); }
