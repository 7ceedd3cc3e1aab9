import { cuesOf, type Checklist } from '../skills/checklist.ts';
import { wordingOf } from '../matching/cue.ts';
import type { Warning } from '../authoring/lint.ts';
import { agrees, objects } from '../interpreting/meaning.ts';
import type { Lexicon, Skill } from '../skills/skill.ts';
import { fieldsIn, placesIn } from '../authoring/skillFile.ts';
import type { Judge } from './judge.ts';

/**
 * Looks for steps and examples of which the learned judge thinks otherwise than their author: a step whose own text it takes for
 * another's, and an example that it would object to. Of each example one wording is tried.
 *
 * @param source the skill's text, for the places of what is found
 */
export async function lintMeaning(
  file: string,
  source: string,
  skill: Skill,
  checklist: Pick<Checklist, 'steps'>,
  lexicon: Lexicon,
  judge: Pick<Judge, 'expect' | 'sureOf'>,
): Promise<Warning[]> {
  const [at, stands] = [placesIn(file, source), fieldsIn(source)];
  const warnings: Warning[] = [];
  await judge.expect(checklist.steps);
  for (const step of checklist.steps.filter(({ evidence }) => evidence.kind === 'said')) {
    const here = ['steps', skill.steps.indexOf(step)];
    const warn = (path: (string | number)[], message: string): void => {
      warnings.push({ kind: 'meaning', ...at([...here, ...path], message) });
    };
    const own = await judge.sureOf(step.text);
    const others = checklist.steps.filter(
      (other) => other.id !== step.id && agrees(other, own[other.id] ?? 0) && other.text !== step.text,
    );
    for (const other of others)
      warn(
        ['text'],
        `the judge of meaning takes this step's text for "${other.id}" as well; tell them apart`,
      );
    if (!stands([...here, 'cues'])) continue;
    for (const { cues } of cuesOf(step))
      for (const [k, cue] of cues.entries()) {
        const said = wordingOf(cue, lexicon, 0);
        const sure = (await judge.sureOf(said))[step.id] ?? 0;
        if (objects(step, sure))
          warn(
            ['cues', k],
            `the judge of meaning does not take "${said}" for this step, so it will be asked about`,
          );
      }
  }
  return warnings;
}
