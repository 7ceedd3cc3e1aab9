import { parseCue, slotsOf, weighItems, wordingsOf, type Cue } from './cue.ts';
import { Matcher, type ReadyCue, type Target } from './match.ts';
import { findNumbers } from '../language/numbers.ts';
import { constraintsOf, type Constraint } from './order.ts';
import type { Lexicon, Rules, Skill, Step } from './skill.ts';

/** A skill made ready to listen for: one choice of variants, its steps in order, its cues compiled. */
export interface Checklist {
  readonly skill: Skill;
  readonly variants: Readonly<Record<string, string>>;
  readonly rules: Rules;
  readonly steps: readonly Step[];
  readonly constraints: readonly Constraint[];
  readonly matcher: Matcher;
  readonly roles: ReadonlyMap<string, Role>;
}

/** What a matched target means for the rehearsal. */
export type Role =
  | { readonly role: 'step'; readonly step: Step }
  | { readonly role: 'start' | 'stop' | 'value'; readonly step: Step }
  | {
      readonly role: 'movement';
      readonly step: Step;
      readonly form: 'full' | 'short';
      readonly joint: string;
    };

/** Thrown when a variant or a value that the skill does not have is asked for. */
export class UnknownVariant extends Error {
  override readonly name = 'UnknownVariant';
}

/** Fills in the defaults of a skill's variants. Throws {@link UnknownVariant}. */
export function chooseVariants(
  skill: Skill,
  wanted: Readonly<Record<string, string>>,
): Record<string, string> {
  for (const [name, value] of Object.entries(wanted)) {
    const options = skill.variants[name]?.options;
    if (!options) {
      const names = Object.keys(skill.variants);
      throw new UnknownVariant(
        `${skill.id} has no variant "${name}"${names.length > 0 ? `; it has: ${names.join(', ')}` : ''}`,
      );
    }
    if (!(value in options)) {
      throw new UnknownVariant(
        `"${value}" is no value of ${name}; it takes: ${Object.keys(options).join(', ')}`,
      );
    }
  }
  return Object.fromEntries(
    Object.entries(skill.variants).map(([name, v]) => [name, wanted[name] ?? v.default]),
  );
}

/** Of choices made for another skill, or another version of it, those that this one knows; its defaults for the rest. */
export const knownVariants = (
  skill: Skill,
  wanted: Readonly<Record<string, string>>,
): Record<string, string> =>
  chooseVariants(
    skill,
    Object.fromEntries(
      Object.entries(wanted).filter(([name, value]) => value in (skill.variants[name]?.options ?? {})),
    ),
  );

/** Every cue of a step, under the name of what it does. */
export function cuesOf(
  step: Step,
): { name: string; role: Role; cues: readonly string[]; repeats: boolean }[] {
  const { evidence, id } = step;
  const own = step.cues ?? [];
  switch (evidence.kind) {
    case 'timed':
      return [
        { name: id, role: { role: 'start', step }, cues: [...evidence.start, ...own], repeats: false },
        // "That's the minute, I'm finished": the first of several sayings is when it stopped.
        { name: `${id}:stop`, role: { role: 'stop', step }, cues: evidence.stop, repeats: true },
      ];
    case 'counted':
      return [
        {
          name: id,
          role: { role: 'movement', step, form: 'full', joint: evidence.joint },
          cues: own,
          repeats: true,
        },
        {
          name: `${id}:again`,
          role: { role: 'movement', step, form: 'short', joint: evidence.joint },
          cues: evidence.again,
          repeats: true,
        },
      ];
    case 'reading':
      return [
        { name: id, role: { role: 'step', step }, cues: own, repeats: false },
        { name: `${id}:value`, role: { role: 'value', step }, cues: evidence.value, repeats: false },
      ];
    case 'said':
      return [{ name: id, role: { role: 'step', step }, cues: own, repeats: false }];
    case 'eyes':
      return [];
  }
}

/** The steps that one choice of variants asks for, in order. */
export const stepsOf = (skill: Skill, variants: Readonly<Record<string, string>>): Step[] =>
  skill.steps.filter((step) => Object.entries(step.when ?? {}).every(([k, v]) => variants[k] === v));

/** Makes a skill ready. Throws {@link UnknownVariant}. */
export function makeChecklist(
  skill: Skill,
  lexicon: Lexicon,
  rules: Rules,
  wanted: Readonly<Record<string, string>> = {},
): Checklist {
  const variants = chooseVariants(skill, wanted);
  const steps = stepsOf(skill, variants);
  const parsed = steps.map((step) =>
    cuesOf(step).map((entry) => ({ ...entry, parsed: entry.cues.map((cue) => parseCue(cue, lexicon)) })),
  );
  const weigh = weighItems(
    parsed.map((entries) => entries.flatMap((entry) => entry.parsed.map(({ items }) => items))),
  );
  const ready = ({ text, items, alone }: Cue): ReadyCue => ({
    text,
    items: items.map((item) => ({ item, weight: weigh(item) })),
    alone,
  });
  const targets: Target[] = parsed.flatMap((entries) =>
    entries.map(({ name, role, parsed: cues, repeats }) => ({
      id: name,
      cues: cues.map(ready),
      allows: new Set(role.step.plans ? ['begun' as const] : []),
      repeats,
    })),
  );
  return {
    skill,
    variants,
    rules,
    steps,
    constraints: constraintsOf(steps),
    matcher: new Matcher(targets),
    roles: new Map(parsed.flat().map(({ name, role }) => [name, role])),
  };
}

/** Wordings of a cue whose slots the skill has shown before. */
const SHOWN_AGAIN = 4;

/**
 * Phrases that the open skill makes likely, for the listener's vocabulary: two words or more each, without numbers,
 * which must be heard as they are said. Every wording of a slot stands in one of them.
 */
export function vocabularyOf({ steps }: Checklist, lexicon: Lexicon): string[] {
  const cues = new Set(steps.flatMap((step) => cuesOf(step).flatMap((of) => of.cues)));
  const shown = new Set<string>();
  const phrases = [...cues].flatMap((cue) => {
    const wordings = wordingsOf(cue, lexicon);
    const slots = slotsOf(cue);
    const isNew = slots.some((name) => !shown.has(name));
    slots.forEach((name) => shown.add(name));
    return isNew ? wordings : wordings.slice(0, SHOWN_AGAIN);
  });
  return [...new Set(phrases)].filter((phrase) => {
    const words = phrase.split(' ');
    return words.length >= 2 && findNumbers(words).length === 0;
  });
}
