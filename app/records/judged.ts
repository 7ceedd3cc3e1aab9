import { shelfOf, skillAt, type Library } from '../library/library.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';
import { reviewOf, type Review } from '../review/review.ts';
import { foldRun, NO_RUN } from '../run/runState.ts';
import { planOf, type MakeChecklist } from '../run/testPlan.ts';
import { makeChecklist, UnknownVariant, type Checklist } from '../skills/checklist.ts';
import type { Kept } from './kept.ts';

/** One skill of a rehearsal: what the machine marks it by, and what a person said of it. */
export interface Judged {
  readonly checklist: Checklist;
  readonly state: State;
  readonly review: Review;
}

/**
 * The skills of a rehearsal: one, or those of a test that were reached.
 *
 * @param make how a skill is made ready; for who has made it ready before
 * @throws {UnknownVariant} its skill is gone, or has no such variant any more
 * @throws {CannotDraw} the same of a test
 */
export function judgedIn(
  { header, events }: Pick<Kept, 'header' | 'events'>,
  library: Library,
  make: MakeChecklist = makeChecklist,
): Judged[] {
  const drawn = events.find((event) => event.type === 'drawn');
  if (drawn) {
    const { checklists } = planOf(shelfOf(library), drawn, make);
    const { runs } = events.reduce(foldRun, NO_RUN);
    return runs.flatMap(({ state }, i) => {
      const checklist = checklists[i];
      return checklist ? [{ checklist, state, review: reviewOf(events, i) }] : [];
    });
  }
  const skill = skillAt(library, header.skill, header.version);
  if (!skill) throw new UnknownVariant(`There is no skill "${header.skill}" any more.`);
  const checklist = make(skill, library.lexicon, library.rules, header.variants);
  return [{ checklist, state: events.reduce(fold, BEFORE), review: reviewOf(events) }];
}
