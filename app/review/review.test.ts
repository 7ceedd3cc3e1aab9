import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { narrate, shipped } from '../../tests/rehearsal/making/narrate.ts';
import { RehearsalEventSchema, type ReviewEvent } from '../marking/events.ts';
import { BEFORE } from '../marking/state.ts';
import { reviewEvents } from './arbitraryReview.ts';
import { isRehearsers, reviewOf, withoutReviewers } from './review.ts';
import { measuredIn, needingEyes, personsResult, sideBySide } from './sideBySide.ts';

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

const shippedList = shipped('respirations');
// Within 2 of the evaluator's number: common practice, no source.
const checklist = {
  ...shippedList,
  rules: { ...shippedList.rules, tolerances: { 'breaths a minute': 2 } },
};
const READING = checklist.steps.find(({ evidence }) => evidence.kind === 'reading')?.id ?? '';
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

  it('lists comments in the order of the recording, one that was sent twice once', () => {
    const at = (moment: number): ReviewEvent => ({
      type: 'commented',
      ...PERSON,
      at: moment,
      text: `at ${moment}`,
    });
    expect(reviewOf([at(9), at(2), at(5), at(2)]).comments.map(({ text }) => text)).toEqual([
      'at 2',
      'at 5',
      'at 9',
    ]);
  });

  it('is signed until something is changed', () => {
    const signed: ReviewEvent = { type: 'signed off', ...PERSON, skill: 0 };
    expect(reviewOf([verdict('a', 'yes'), signed]).signedOff).toEqual(signed);
    expect(reviewOf([signed, verdict('a', 'no')]).signedOff).toBeNull();
    expect(reviewOf([signed, verdict('a', 'no', 1)]).signedOff).toEqual(signed);
    expect(reviewOf([signed], 1).signedOff).toBeNull();
  });

  it('of who rehearsed shows them their own numbers and nothing of a reviewer’s', () => {
    fc.assert(
      fc.property(fc.array(reviewEvents(steps), { maxLength: 30 }), (made) => {
        const seen = withoutReviewers([...events, ...made]);
        expect(seen.slice(0, events.length)).toEqual(events);
        expect(seen.slice(events.length)).toEqual(made.filter(isRehearsers));
        const { verdicts, measured, comments, signedOff } = reviewOf(seen);
        expect([verdicts.size, measured.size, comments.length, signedOff]).toEqual([0, 0, 0, null]);
      }),
    );
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

describe('side by side', () => {
  it('sets the reading beside what was measured, by the tolerance of the rules', () => {
    const id = READING;
    const measureAt = (value: number) => {
      const made = [...events, { type: 'measured' as const, ...PERSON, skill: 0, step: id, value }];
      return sideBySide(checklist, state, reviewOf(made)).find(({ step }) => step === id)?.measure;
    };
    expect(measureAt(14)).toMatchObject({ said: 16, truth: 14, tolerance: 2, within: true });
    expect(measureAt(13)).toMatchObject({ within: false });
    const silent = { ...checklist, rules: { ...checklist.rules, tolerances: {} } };
    const made: ReviewEvent[] = [{ type: 'measured', ...PERSON, skill: 0, step: id, value: 14 }];
    expect(sideBySide(silent, state, reviewOf(made)).find(({ step }) => step === id)?.measure).toMatchObject({
      tolerance: null,
      within: null,
    });
    expect(
      sideBySide(checklist, state, reviewOf(events)).find(({ step }) => step === id)?.measure,
    ).toMatchObject({
      truth: null,
      within: null,
    });
  });

  it('puts a reviewer’s number before that of who rehearsed, which changes nothing that was signed', () => {
    const own = (value: number): ReviewEvent => ({
      ...{ type: 'measured', ...PERSON, skill: 0, step: READING },
      ...{ value, byRehearser: true },
    });
    const reviewers: ReviewEvent = { type: 'measured', ...PERSON, skill: 0, step: READING, value: 20 };
    const signed: ReviewEvent = { type: 'signed off', ...PERSON, skill: 0 };
    const measureOf = (made: readonly ReviewEvent[]) =>
      sideBySide(checklist, state, reviewOf(made)).find(({ step }) => step === READING)?.measure;
    expect(measureOf([own(30), own(15)])).toMatchObject({ truth: 15, measuredBy: 'rehearser', within: true });
    expect(measureOf([reviewers, own(15)])).toMatchObject({
      truth: 20,
      measuredBy: 'reviewer',
      within: false,
    });
    expect(measureOf([signed, own(15)])).toMatchObject({ truth: null, measuredBy: null });
    expect(reviewOf([own(15), signed]).signedOff).toEqual(signed);
    const rows = sideBySide(checklist, state, reviewOf([own(15)]));
    expect(measuredIn(rows)).toEqual({ [READING]: 15 });
    // Where the rules name no limit, nothing is held against it.
    const silent = { ...checklist, rules: { ...checklist.rules, tolerances: {} } };
    expect(measuredIn(sideBySide(silent, state, reviewOf([own(15)])))).toEqual({});
  });

  it('knows what needs eyes, until somebody has watched', () => {
    const washing = shipped('hand-washing');
    const eyesIn = (made: readonly ReviewEvent[]) =>
      needingEyes(sideBySide(washing, BEFORE, reviewOf(made))).map(({ step }) => step);
    const [eyes = ''] = eyesIn([]);
    expect(washing.steps.find(({ id }) => id === eyes)?.evidence.kind).toBe('eyes');
    expect(eyesIn([verdict(eyes, 'no')])).not.toContain(eyes);
  });

  it('passes nobody before all is judged', () => {
    const all = steps.map((step) => verdict(step, 'yes'));
    const rowsOf = (made: readonly ReviewEvent[]) => sideBySide(checklist, state, reviewOf(made));
    expect(personsResult(rowsOf(all.slice(1)), checklist.rules).passed).toBeNull();
    expect(personsResult(rowsOf(all), checklist.rules)).toMatchObject({ passed: true, yes: all.length });
    const critical = checklist.steps.find((step) => step.critical)?.id ?? '';
    expect(personsResult(rowsOf([...all, verdict(critical, 'unsure')]), checklist.rules)).toMatchObject({
      passed: false,
      criticalMissed: [critical],
    });
  });
});
