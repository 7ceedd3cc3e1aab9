import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { hearAgain } from '../../app/authoring/remark.ts';
import { openLibrary } from '../../app/library/library.ts';
import type { RehearsalEvent, ReviewEvent } from '../../app/marking/events.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { BEFORE, fold } from '../../app/marking/state.ts';
import { reviewEvents } from '../../app/review/arbitraryReview.ts';
import { reviewOf } from '../../app/review/review.ts';
import { openRows, sideBySide } from '../../app/review/sideBySide.ts';
import { foldRun, NO_RUN } from '../../app/run/runState.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { narrate, shipped } from './making/narrate.ts';

const { lexicon } = await openLibrary();
const checklist = shipped('respirations');
const { events, state } = narrate(checklist, [
  'Hello, my name is Ana, I will be your nurse aide today.',
  'Starting now.',
  61,
  'Done, one full minute, 16 breaths.',
]);
const steps = checklist.steps.map(({ id }) => id);

describe("the machine's marks", () => {
  const spread = (made: readonly ReviewEvent[], places: readonly number[]): RehearsalEvent[] =>
    made.reduce<RehearsalEvent[]>(
      (all, event, i) => all.toSpliced(1 + ((places[i] ?? 0) % all.length), 0, event),
      events,
    );

  it('never change by a review, wherever in the journal its events stand', () => {
    const marks = markRehearsal(checklist, state);
    const test = events.reduce(foldRun, NO_RUN);
    const again = hearAgain(checklist, events);
    fc.assert(
      fc.property(
        fc.array(reviewEvents(steps), { maxLength: 12 }),
        fc.array(fc.nat(), { maxLength: 12 }),
        (made, places) => {
          const mixed = spread(made, places);
          expect(mixed.reduce(fold, BEFORE)).toEqual(state);
          expect(mixed.reduce(foldRun, NO_RUN)).toEqual(test);
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
    const later = makeChecklist({ ...checklist.skill, version: 99, steps: others }, lexicon, checklist.rules);
    const review = reviewOf([
      {
        type: 'reviewed',
        by: 'R. Ortega',
        madeAt: '2026-11-30T09:00:00.000Z',
        skill: 0,
        step: first.id,
        verdict: 'yes',
        reason: '',
        heardAt: null,
        blind: false,
      },
    ]);
    const rows = sideBySide(later, state, review);
    expect(rows.at(-1)).toMatchObject({ step: first.id, mark: null, verdict: { verdict: 'yes' } });
    expect(openRows(rows)).toHaveLength(rows.length - 1);
  });
});
