import { describe, expect, it } from 'vitest';
import { openLibrary, readNarrations, SHIPPED_SKILLS } from '../../app/library/library.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { findCommand } from '../../app/language/commands.ts';
import { hasReading } from '../../app/skills/form.ts';
import { playNarration } from '../../app/run/narration.ts';
import { heardClearly } from '../../app/language/utterance.ts';
import { judged } from '../written/judging.ts';
import { PERSONAL_CARE } from '../../app/skills/skill.ts';

/** The skills that come with the program, as a whole. */

const library = await openLibrary();
const skills = [...library.skills.values()];
const narrations = await readNarrations();

/** Steps that show that a skill practises an item, and not only says so. */
const SHOWN_BY: Readonly<Record<(typeof PERSONAL_CARE)[number], readonly string[]>> = {
  bathing: ['partial-bed-bath'],
  'grooming and mouth care': ['mouth-care', 'denture-care', 'hair-and-shaving', 'hand-and-nail-care'],
  dressing: ['dressing-weak-side', 'compression-stocking'],
  toileting: ['bedpan', 'perineal-care-female', 'perineal-care-male', 'catheter-care'],
  'eating and hydration': ['feeding-and-fluids'],
  'feeding techniques': ['feeding-and-fluids'],
  'skin care': ['foot-care', 'partial-bed-bath', 'side-positioning'],
  'transfers, positioning and turning': ['pivot-transfer', 'ambulation-gait-belt', 'side-positioning'],
};

describe('the library of skills', () => {
  it('is free of faults, and has two dozen skills and more', () => {
    expect(library.faults).toEqual([]);
    expect(skills.length).toBeGreaterThanOrEqual(24);
  });

  // 42 CFR 483.152(b)(3), personal care skills, items (i) to (viii); the list from memory.
  it.each(PERSONAL_CARE)('covers %s', (item) => {
    const covering = skills.filter(({ covers }) => covers.includes(item)).map(({ id }) => id);
    for (const skill of SHOWN_BY[item]) expect(covering).toContain(skill);
  });

  // Common practice, no source: what is measured in skills tests.
  it.each([
    ['respirations', 'breaths a minute'],
    ['radial-pulse', 'beats a minute'],
    ['blood-pressure', 'mmHg'],
    ['urine-output', 'millilitres'],
    ['standing-weight', 'pounds'],
  ])('records a number in %s, in %s', (id, unit) => {
    const skill = library.skills.get(id)!;
    expect(hasReading(skill)).toBe(true);
    expect(
      skill.steps.flatMap(({ evidence }) => (evidence.kind === 'reading' ? [evidence.unit] : [])),
    ).toContain(unit);
  });

  it('has rules that know how far every number may be off', () => {
    const units = new Set(
      skills.flatMap(({ steps }) =>
        steps.flatMap(({ evidence }) => (evidence.kind === 'reading' ? [evidence.unit] : [])),
      ),
    );
    for (const id of ['practice', 'strict', 'first-weeks'])
      for (const unit of units) expect(library.ruleSets.get(id)!.tolerances, id).toHaveProperty([unit]);
  });

  it.each(skills.filter(({ id }) => id !== 'hand-washing').map((skill) => [skill.id, skill] as const))(
    '%s has a critical step, and a card',
    (_id, { steps, card }) => {
      expect(steps.some(({ critical }) => critical)).toBe(true);
      expect(card).toMatch(/Say each step aloud as you do it\.\s*$/);
    },
  );

  const added = skills.filter(
    ({ id }) => !['hand-washing', 'range-of-motion-leg', 'respirations'].includes(id),
  );
  it.each(added.map((skill) => [skill.id, skill] as const))(
    '%s says what must lie ready and what can hurt',
    (_id, { equipment, cautions }) => {
      expect(equipment.length).toBeGreaterThan(0);
      expect(cautions.length).toBeGreaterThan(0);
    },
  );

  it.each(skills.map(({ id }) => id))('%s has a right narration and two faulty ones', (id) => {
    const own = narrations.filter(({ skill }) => skill === id);
    const right = own.filter(({ passed, marks }) => passed && Object.values(marks).flat().length === 0);
    expect(right.length).toBeGreaterThanOrEqual(1);
    expect(own.length - right.length).toBeGreaterThanOrEqual(2);
    expect(own.some(({ passed }) => !passed)).toBe(true);
  });

  it('says nothing in its narrations that is a command to the coach', () => {
    const said = narrations.flatMap(({ says }) => says.filter((line) => typeof line === 'string'));
    expect(said.length).toBeGreaterThan(1500);
    expect(said.filter((line) => findCommand(line))).toEqual([]);
  });

  it.each(narrations.map((narration) => [narration.file.slice(SHIPPED_SKILLS.length), narration] as const))(
    '%s gets its marks',
    async (_file, narration) => {
      const skill = library.skills.get(narration.skill)!;
      const checklist = makeChecklist(skill, library.lexicon, library.rules, narration.variants);
      const said = narration.says.flatMap((line, id) =>
        typeof line === 'string' ? [heardClearly(id, line, 0)] : [],
      );
      const meanings = new Map((await judged(said, checklist)).map((u) => [u.text, u.judged]));
      expect(playNarration(checklist, narration, meanings)).toEqual([]);
    },
  );
});
