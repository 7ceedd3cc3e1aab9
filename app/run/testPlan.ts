import { makeChecklist, type Checklist } from '../skills/checklist.ts';
import { CannotDraw, draw } from '../skills/draw.ts';
import type { Drawn } from '../marking/events.ts';
import type { Form } from '../skills/form.ts';
import { randomFrom } from '../skills/random.ts';
import type { Lexicon, Rules, Skill } from '../skills/skill.ts';

/** What is run: skills made ready, in the order they are to be done, and what they are marked by. At least one skill. */
export type RunPlan = Practice | TestPlan;

/** A rehearsal of one skill, without the clock of a test. */
export interface Practice {
  /** Nothing was drawn. */
  readonly form: null;
  readonly rules: Rules;
  readonly checklists: readonly Checklist[];
  /** Whether it begins as a later skill of a test does: hands just washed, the resident known. */
  readonly continued: boolean;
}

export const practiceOf = (checklist: Checklist, continued = false): Practice => ({
  form: null,
  rules: checklist.rules,
  checklists: [checklist],
  continued,
});

/** A mock test as it was drawn. */
export interface TestPlan {
  /** Id of the form, or {@link BY_HAND}. */
  readonly form: string;
  readonly rules: Rules;
  /** Null where the skills were picked by hand. */
  readonly seed: number | null;
  readonly checklists: readonly Checklist[];
}

/** Whether the trainee is told nothing of how it goes, as in a test. */
export const isSilent = ({ form, rules }: RunPlan): boolean => form !== null && rules.silent;

/** What stands in the place of a form's id where the skills were picked by hand. */
export const BY_HAND = 'by hand';

/** What a test is planned from. */
export interface Shelf {
  readonly skills: Skill[];
  readonly lexicon: Lexicon;
  readonly ruleSets: Rules[];
  readonly forms: Form[];
}

/** Makes a skill ready, as {@link makeChecklist} does. */
export type MakeChecklist = typeof makeChecklist;

type Variants = Readonly<Record<string, Readonly<Record<string, string>>>>;

/**
 * Draws a test by a form.
 *
 * @param seed the same seed draws the same skills
 * @param rules id of other rules than the form's
 * @param weakness see {@link draw}; without it weakness plays no part
 * @throws {CannotDraw}
 */
export function drawTest(
  shelf: Shelf,
  form: string,
  seed: number,
  { rules, weakness }: { readonly rules?: string; readonly weakness?: ReadonlyMap<string, number> } = {},
): TestPlan {
  const found = shelf.forms.find(({ id }) => id === form);
  if (!found) throw new CannotDraw(`There is no form "${form}"; there is: ${namesOf(shelf.forms)}.`);
  const skills = draw(found, shelf.skills, randomFrom(seed), weakness);
  return plan(shelf, form, rules ?? found.rules, seed, skills);
}

/**
 * A test of skills picked by hand, in their order.
 *
 * @throws {CannotDraw} there is no such skill, or no such rules
 */
export function pickTest(
  shelf: Shelf,
  skills: readonly string[],
  rules: string,
  variants: Variants = {},
  make?: MakeChecklist,
): TestPlan {
  const picked = skills.map((id) => {
    const skill = shelf.skills.find((each) => each.id === id);
    if (!skill) throw new CannotDraw(`There is no skill "${id}"; there is: ${namesOf(shelf.skills)}.`);
    return skill;
  });
  if (picked.length === 0) throw new CannotDraw('A test needs at least one skill.');
  return plan(shelf, BY_HAND, rules, null, picked, variants, make);
}

/**
 * The test that a record holds, made ready again.
 *
 * @param make how a skill is made ready; for who has made it ready before
 * @throws {CannotDraw} its skills or rules are gone
 */
export function planOf(shelf: Shelf, drawn: Drawn, make?: MakeChecklist): TestPlan {
  const variants = Object.fromEntries(drawn.skills.map(({ skill, variants: own }) => [skill, own]));
  const ids = drawn.skills.map(({ skill }) => skill);
  return { ...pickTest(shelf, ids, drawn.rules, variants, make), form: drawn.form, seed: drawn.seed };
}

/** What there is to say where skills are others now than when the test was sat: they are marked as they are now. */
export const versionRemarks = ({ checklists }: TestPlan, { skills }: Drawn): string[] =>
  checklists.flatMap(({ skill }, i) => {
    const sat = skills[i]?.version;
    return sat === skill.version
      ? []
      : [`${skill.title} was sat under version ${sat}, and is marked under version ${skill.version}.`];
  });

function plan(
  { lexicon, ruleSets }: Shelf,
  form: string,
  rulesId: string,
  seed: number | null,
  skills: readonly Skill[],
  variants: Variants = {},
  make: MakeChecklist = makeChecklist,
): TestPlan {
  const rules = ruleSets.find(({ id }) => id === rulesId);
  if (!rules) throw new CannotDraw(`There are no rules "${rulesId}"; there is: ${namesOf(ruleSets)}.`);
  const checklists = skills.map((skill) => make(skill, lexicon, rules, variants[skill.id]));
  return { form, rules, seed, checklists };
}

const namesOf = (all: readonly { readonly id: string }[]): string => all.map(({ id }) => id).join(', ');
