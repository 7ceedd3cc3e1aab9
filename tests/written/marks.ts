import { openLibrary } from '../../app/library/library.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { loadNarrations } from '../speech/narration.ts';
import { creditedBy, TRAPS } from '../rehearsal/traps/traps.ts';
import { markWritten } from './written.ts';

/**
 * `npm run -s marks > FILE`: every mark of every narration as written, and what each trap credits, a line each. Two files made before and
 * after a change of the code that should change no mark are the same (`diff`).
 */
const library = await openLibrary();

for (const narration of await loadNarrations()) {
  const skill = library.skills.get(narration.skill);
  if (!skill) throw new Error(`${narration.id} is of no skill that is here: ${narration.skill}`);
  const checklist = makeChecklist(skill, library.lexicon, library.rules, narration.variants);
  const { assessment } = await markWritten(narration, checklist);
  const { steps, clocks, counts, readings, result } = assessment;
  for (const mark of [...steps, ...clocks, ...counts, ...readings, result])
    console.log(`${narration.id} ${JSON.stringify(mark)}`);
}

for (const [at, trap] of TRAPS.entries()) {
  const skill = library.skills.get(trap.skill);
  if (!skill) throw new Error(`"${trap.says}" is of no skill that is here: ${trap.skill}`);
  const checklist = makeChecklist(skill, library.lexicon, library.rules);
  console.log(`trap ${at} ${JSON.stringify(await creditedBy(checklist, trap.says))}`);
}
process.exit(0);
