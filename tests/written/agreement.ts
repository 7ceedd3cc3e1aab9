import { parseArgs } from 'node:util';
import { agreementOf } from '../../app/agreement/agreement.ts';
import type { Pair } from '../../app/agreement/pairs.ts';
import { describeAgreement } from '../../app/cli/kept/agreement.ts';
import { openLibrary } from '../../app/library/library.ts';
import { agreementHtml } from '../../app/report/agreementHtml.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { loadNarrations } from '../speech/narration.ts';
import { expectedMarks, type Expected } from '../speech/bench/score.ts';
import { markWritten, type Written } from './written.ts';

/**
 * `npx tsx tests/written/agreement.ts [--split held-out|dev] [--html]`: the agreement of the machine with the labels of our own narrations, taken
 * as if a person had reviewed them without seeing a mark. Order is not labelled step by step, so a credit out of order counts as one.
 */
const { values } = parseArgs({
  options: { split: { type: 'string', default: 'held-out' }, html: { type: 'boolean', default: false } },
});

const VERDICTS: Readonly<Record<Expected, Pair['verdict']>> = { credit: 'yes', none: 'no', either: 'unsure' };

function pairsOf(
  { narration, truth, assessment }: Written,
  checklist: ReturnType<typeof makeChecklist>,
): Pair[] {
  const expected = expectedMarks(checklist.steps, truth);
  return assessment.steps.flatMap(({ id, text, critical, outcome }): Pair[] => {
    const label = expected.get(id);
    if (label === undefined || outcome === 'needs eyes') return [];
    return [
      {
        attempt: narration.id,
        skill: checklist.skill.id,
        version: checklist.skill.version,
        engine: 'as written',
        step: id,
        text,
        critical,
        outcome,
        credited: outcome === 'heard' || outcome === 'out of order',
        verdict: VERDICTS[label],
        blind: true,
        cue: null,
        // Nobody is to read held-out lines.
        said: null,
      },
    ];
  });
}

const library = await openLibrary();
const pairs: Pair[] = [];
for (const narration of await loadNarrations()) {
  if (narration.split !== values.split) continue;
  const skill = library.skills.get(narration.skill);
  if (!skill) throw new Error(`${narration.id} is of no skill that is here: ${narration.skill}`);
  const checklist = makeChecklist(skill, library.lexicon, library.rules, narration.variants);
  pairs.push(...pairsOf(await markWritten(narration, checklist), checklist));
}
const agreement = agreementOf(pairs);
const about = `Our own narrations (${values.split}), as written: the machine against their labels`;
console.log(values.html ? agreementHtml(agreement, about) : describeAgreement(agreement));
process.exit(0);
