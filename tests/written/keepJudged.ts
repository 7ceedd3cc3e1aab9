import { fileURLToPath } from 'node:url';
import { openLibrary, readNarrations } from '../../app/library/library.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { heardClearly } from '../../app/language/utterance.ts';
import { shipped } from '../rehearsal/making/narrate.ts';
import { CORRECTIONS, creditedBy, saidIn, TRAPS } from '../rehearsal/traps/traps.ts';
import { loadNarrations } from '../speech/narration.ts';
import { judged, keepForAll } from './judging.ts';
import { markWritten } from './written.ts';

/**
 * `npm run keep:judged`: asks the judge all that the everyday tests ask it, some 8,000 sentences and a quarter of an hour, and keeps its
 * verdicts in the repository. Wanted after the network, the way it is asked, or a step's text has changed; what is missing is asked in the
 * tests, which then take as much longer.
 */
for (const { skill, variants, says } of await readNarrations()) {
  const lines = says.flatMap((line, id) => (typeof line === 'string' ? [heardClearly(id, line, 0)] : []));
  await judged(lines, shipped(skill, variants));
}
for (const narration of await loadNarrations())
  if (narration.split === 'held-out')
    await markWritten(narration, shipped(narration.skill, narration.variants));
for (const { skill, says } of TRAPS) await creditedBy(shipped(skill), says);
for (const correction of CORRECTIONS) await judged(saidIn(correction), shipped(correction.skill));

const folder = fileURLToPath(new URL('newSkill', import.meta.url));
const { skills, lexicon, rules } = await openLibrary(folder);
for (const narration of await loadNarrations(`${folder}/said`))
  await markWritten(narration, makeChecklist(skills.get(narration.skill)!, lexicon, rules));

console.log(`${keepForAll()} verdicts are kept.`);
process.exit(0);
