import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { narrate, shipped } from '../../tests/rehearsal/narrate.ts';
import { hearAgain } from '../authoring/remark.ts';
import { RehearsalEventSchema, type RehearsalEvent, type ReviewEvent } from '../marking/events.ts';
import { markRehearsal } from '../marking/result.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { foldTest, NO_TEST } from '../run/mockTest.ts';
import { makeChecklist } from '../skills/checklist.ts';
import { reviewEvents } from './arbitraryReview.ts';
import { reviewOf } from './review.ts';
import { needingEyes, openRows, personsResult, sideBySide } from './sideBySide.ts';

const PERSON = { by: 'R. Ortega', madeAt: '2026-11-30T09:00:00.000Z' };
const verdict = (step: string, said: 'yes' | 'no' | 'unsure', skill = 0): ReviewEvent => ({
  type: 'reviewed',
  ...PERSON,
  skill,
  step,
  verdict: said,
  reason: '',
  heardAt: null,
  blind: false,
});

const checklist = shipped('respirations');
const { events, state } = narrate(checklist, [
  'Hello, my name is Ana, I will be your nurse aide today.',
  'Starting now.',
  61,
  'Done, one full minute, 16 breaths.',
]);
const steps = checklist.steps.map(({ id }) => id);

describe('a review', () => {
  it('keeps the last verdict on each step, of its own skill alone', () => {
    const review = reviewOf([verdict('a', 'yes'), verdict('a', 'no'), verdict('b', 'yes', 1)]);
    expect([...review.verdicts].map(([step, { verdict: said }]) => [step, said])).toEqual([['a', 'no']]);
    expect(reviewOf([verdict('b', 'yes', 1)], 1).verdicts.has('b')).toBe(true);
  });

  it('lists comments in the order of the recording', () => {
    const at = (moment: number): ReviewEvent => ({
      type: 'commented',
      ...PERSON,
      at: moment,
      text: `at ${moment}`,
    });
    expect(reviewOf([at(9), at(2), at(5)]).comments.map(({ text }) => text)).toEqual([
      'at 2',
      'at 5',
      'at 9',
    ]);
  });

  it('is signed until something is changed', () => {
    const signed: ReviewEvent = { type: 'signed off', ...PERSON };
    expect(reviewOf([verdict('a', 'yes'), signed]).signedOff).toEqual(signed);
    expect(reviewOf([signed, verdict('a', 'no')]).signedOff).toBeNull();
  });

  it('takes any events, and its own are kept as they are by the journal', () => {
    fc.assert(
      fc.property(fc.array(reviewEvents(steps), { maxLength: 30 }), (made) => {
        const review = reviewOf([...events, ...made]);
        const mine = made.filter((e) => e.type === 'reviewed' && e.skill === 0);
        expect(review.verdicts.size).toBe(new Set(mine.map((e) => 'step' in e && e.step)).size);
        for (const event of made)
          expect(RehearsalEventSchema.parse(JSON.parse(JSON.stringify(event)))).toEqual(event);
      }),
    );
  });
});

describe("the machine's marks", () => {
  const spread = (made: readonly ReviewEvent[], places: readonly number[]): RehearsalEvent[] =>
    made.reduce<RehearsalEvent[]>(
      (all, event, i) => all.toSpliced(1 + ((places[i] ?? 0) % all.length), 0, event),
      events,
    );

  it('never change by a review, wherever in the journal its events stand', () => {
    const marks = markRehearsal(checklist, state);
    const test = events.reduce(foldTest, NO_TEST);
    const again = hearAgain(checklist, events);
    fc.assert(
      fc.property(
        fc.array(reviewEvents(steps), { maxLength: 12 }),
        fc.array(fc.nat(), { maxLength: 12 }),
        (made, places) => {
          const mixed = spread(made, places);
          expect(mixed.reduce(fold, BEFORE)).toEqual(state);
          expect(mixed.reduce(foldTest, NO_TEST)).toEqual(test);
          expect(hearAgain(checklist, mixed)).toEqual(again);
          const rows = sideBySide(checklist, mixed.reduce(fold, BEFORE), reviewOf(mixed));
          expect(rows.flatMap(({ mark }) => mark ?? [])).toEqual(marks.steps);
        },
      ),
      { numRuns: 50 },
    );
  });

  it("follow a later version of the skill; the person's stay, also of a step that is gone", () => {
    const [first, ...others] = checklist.skill.steps;
    if (!first) throw new Error('The skill has steps.');
    const later = makeChecklist(
      { ...checklist.skill, version: 99, steps: others },
      { schema: 1, slots: {} },
      checklist.rules,
    );
    const review = reviewOf([verdict(first.id, 'yes')]);
    const rows = sideBySide(later, state, review);
    expect(rows.at(-1)).toMatchObject({ step: first.id, mark: null, verdict: { verdict: 'yes' } });
    expect(openRows(rows)).toHaveLength(rows.length - 1);
  });
});

describe('side by side', () => {
  it('sets the reading beside what was measured, by the tolerance of the rules', () => {
    const id = checklist.steps.find(({ evidence }) => evidence.kind === 'reading')?.id ?? '';
    const measureAt = (value: number) => {
      const made = [...events, { type: 'measured' as const, ...PERSON, skill: 0, step: id, value }];
      return sideBySide(checklist, state, reviewOf(made)).find(({ step }) => step === id)?.measure;
    };
    // Within 2 of the evaluator's number: common practice, no source.
    expect(measureAt(14)).toMatchObject({ said: 16, truth: 14, tolerance: 2, within: true });
    expect(measureAt(13)).toMatchObject({ within: false });
    expect(
      sideBySide(checklist, state, reviewOf(events)).find(({ step }) => step === id)?.measure,
    ).toMatchObject({
      truth: null,
      within: null,
    });
  });

  it('knows what is open and what needs eyes, and passes nobody before all is judged', () => {
    const all = steps.map((step) => verdict(step, 'yes'));
    const rowsOf = (made: readonly ReviewEvent[]) => sideBySide(checklist, state, reviewOf(made));
    const eyes = needingEyes(rowsOf([])).map(({ step }) => step);
    expect(eyes).toEqual(
      checklist.steps.filter(({ evidence }) => evidence.kind === 'eyes').map(({ id }) => id),
    );
    expect(personsResult(rowsOf(all.slice(1)), checklist.rules).passed).toBeNull();
    expect(personsResult(rowsOf(all), checklist.rules)).toMatchObject({ passed: true, yes: all.length });
    const critical = checklist.steps.find((step) => step.critical)?.id ?? '';
    expect(personsResult(rowsOf([...all, verdict(critical, 'unsure')]), checklist.rules)).toMatchObject({
      passed: false,
      criticalMissed: [critical],
    });
  });
});
