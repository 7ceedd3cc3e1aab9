import { stepsOf } from '../../app/skills/checklist.ts';
import type { Library } from '../../app/host/api.ts';
import type { Skill } from '../../app/skills/skill.ts';

/** How many steps the first try has: about a minute. */
const STEPS = 4;

/** What leads to a first rehearsal, in this order. */
export type FirstStep = 'model' | 'microphone' | 'try';

/**
 * The steps of a first visit, with whether each is done; null where there is nothing more to lead through: something was rehearsed,
 * and it can be heard.
 */
export function firstSteps(known: {
  readonly canHear: boolean;
  readonly microphonesChecked: number;
  readonly rehearsals: number;
}): { step: FirstStep; done: boolean }[] | null {
  if (known.canHear && known.rehearsals > 0) return null;
  return [
    { step: 'model', done: known.canHear },
    { step: 'microphone', done: known.microphonesChecked > 0 },
    { step: 'try', done: known.rehearsals > 0 },
  ];
}

/** What is tried first: the skill every test begins with, or else the first there is; null where there is none. */
export const firstSkill = ({ skills, forms }: Pick<Library, 'skills' | 'forms'>): Skill | null =>
  skills.find(({ id }) => forms.some(({ first }) => first === id)) ?? skills[0] ?? null;

/** The first steps of a skill that words can show. */
export const shortTry = (
  skill: Skill,
  variants: Readonly<Record<string, string>>,
): { id: string; text: string }[] =>
  stepsOf(skill, variants)
    .filter(({ evidence }) => evidence.kind === 'said')
    .slice(0, STEPS);
