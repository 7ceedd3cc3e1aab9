import { describe, expect, it } from 'vitest';
import { openLibrary, shelfOf } from '../../app/library/library.ts';
import type { Library, Rehearsal } from '../../app/host/api.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { reviewOf } from '../../app/review/review.ts';
import { openRows, sideBySide, type Row } from '../../app/review/sideBySide.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { narrate, shipped } from '../../tests/rehearsal/making/narrate.ts';
import { reviewablesOf, versionsOf } from './reviewables.ts';
import { measureText } from '../parts/MeasuredField.tsx';
import { isHidden, shownRows } from './reviewView.ts';

const opened = await openLibrary();
const { care, rules, faults } = opened;
const library: Library = { ...shelfOf(opened), care, rules, faults: [...faults] };
const skill = opened.skills.get('hand-washing');
if (!skill) throw new Error('Hand washing comes with the program.');
const checklist = shipped('hand-washing');
const { events, marks } = narrate(checklist, ['I am wetting my hands and wrists.', 'Getting some soap.']);
const rehearsal: Rehearsal = {
  header: {
    schema: 1,
    skill: 'hand-washing',
    version: skill.version,
    variants: {},
    style: 'coach',
    engine: 'moonshine/moonshine-tiny-en',
    startedAt: '2026-11-30T08:00:00.000Z',
  },
  events: [{ type: 'began', skill: 'hand-washing', variants: checklist.variants }, ...events],
  faults: [],
  kept: events.length + 1,
  samples: 32_000,
};
const marksOf = (rehearsed: Rehearsal, under: Skill | null) =>
  reviewablesOf(rehearsed, library, under).map((each) => markRehearsal(each.checklist, each.state).steps);

describe('what can be reviewed of a record', () => {
  it('is its skill, as it was marked', () => {
    expect(marksOf(rehearsal, skill)).toEqual([marks.steps]);
    expect(reviewablesOf(rehearsal, library, skill)[0]).toMatchObject({
      skill: 0,
      seconds: expect.any(Number),
    });
    expect(marksOf(rehearsal, null)).toEqual([]);
  });

  it('is only the part that was rehearsed', () => {
    const part = { ...rehearsal, header: { ...rehearsal.header, only: ['soap'] } };
    expect(marksOf(part, skill)[0]?.map(({ id, outcome }) => [id, outcome])).toEqual([['soap', 'heard']]);
  });

  it('is marked again under another version', () => {
    const steps = skill.steps.map((step) =>
      step.id === 'soap' ? { ...step, cues: ['I reach for the blue bottle.'] } : step,
    );
    const later: Skill = { ...skill, version: skill.version + 1, steps };
    const outcome = (under: Skill) => marksOf(rehearsal, under)[0]?.find(({ id }) => id === 'soap')?.outcome;
    expect([outcome(skill), outcome(later)]).toEqual(['heard', 'not heard']);
  });

  it('is each skill of a test that was reached', () => {
    const drawn = ['hand-washing', 'respirations', 'bedpan'].map((id) => ({
      skill: id,
      variants: {},
      version: 1,
    }));
    const test: Rehearsal = {
      ...rehearsal,
      events: [
        { type: 'drawn', form: 'by hand', rules: 'practice', seed: null, skills: drawn },
        ...rehearsal.events,
        { type: 'moved on', at: 30 },
        { type: 'began', skill: 'respirations', variants: {} },
      ],
    };
    const found = reviewablesOf(test, library, null);
    expect(found.map((each) => [each.checklist.skill.id, each.skill])).toEqual([
      ['hand-washing', 0],
      ['respirations', 1],
    ]);
  });

  it('has each version of its skill once, the newest first', () => {
    const at = (version: number): Skill => ({ ...skill, version });
    expect(versionsOf(at(2), [at(1), at(3), at(2)]).map(({ version }) => version)).toEqual([3, 2, 1]);
    expect(versionsOf(undefined, [])).toEqual([]);
  });
});

describe('a blind review', () => {
  const [attempt] = reviewablesOf(rehearsal, library, skill);
  const rows = attempt ? sideBySide(attempt.checklist, attempt.state, reviewOf([])) : [];

  it('shows nothing of what the machine heard until the person has judged, and leaves as much open', () => {
    const shown = shownRows(rows, true);
    expect(rows.some(({ mark }) => mark?.evidence)).toBe(true);
    expect(shown.every(({ mark }) => !mark?.evidence)).toBe(true);
    expect(openRows(shown)).toHaveLength(openRows(rows).length);
    expect(shownRows(rows, false)).toEqual(rows);
  });

  it('hides no step that needs eyes, nor one with a verdict', () => {
    const judged: Row[] = rows.map((row) => ({
      ...row,
      verdict: {
        type: 'reviewed',
        by: 'R. Ortega',
        madeAt: '2026-11-30T09:00:00.000Z',
        skill: 0,
        step: row.step,
        verdict: 'yes',
        reason: '',
        heardAt: null,
        blind: true,
      },
    }));
    expect(judged.some((row) => isHidden(row, true))).toBe(false);
    expect(rows.filter((row) => !isHidden(row, true)).map(({ mark }) => mark?.outcome)).toEqual([
      'needs eyes',
    ]);
  });
});

describe('a reading', () => {
  it('is told beside what was measured, and by what the rules allow', () => {
    const measure = {
      name: 'Respirations',
      unit: 'breaths a minute',
      said: 16,
      truth: 13,
      measuredBy: 'reviewer' as const,
      tolerance: 2,
      within: false,
    };
    expect(measureText(measure)).toBe(
      'Said: 16 breaths a minute. Measured: 13; 3 apart. Beyond the 2 that the rules allow.',
    );
    expect(measureText({ ...measure, truth: 15, within: true })).toContain('Within the 2');
    expect(measureText({ ...measure, tolerance: null, within: null })).toContain('set no limit');
    expect(measureText({ ...measure, said: null, within: null })).toBe('No number was heard.');
  });
});
