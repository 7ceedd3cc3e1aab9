import type { RehearsalEvent } from '../../app/marking/events.ts';
import { reviewOf } from '../../app/review/review.ts';
import { measuredIn, sideBySide } from '../../app/review/sideBySide.ts';
import type { RunState } from '../../app/run/runState.ts';
import type { TestPlan } from '../../app/run/testPlan.ts';

/** The numbers measured in a mock test, by skill and step, as `markTest` takes them. */
export const measuredInTest = (
  { checklists }: TestPlan,
  { runs }: RunState,
  journal: readonly RehearsalEvent[],
): Record<string, Record<string, number>> =>
  Object.fromEntries(
    checklists.flatMap((checklist, i) => {
      const run = runs[i];
      const { id } = checklist.skill;
      return run ? [[id, measuredIn(sideBySide(checklist, run.state, reviewOf(journal, i)))]] : [];
    }),
  );
