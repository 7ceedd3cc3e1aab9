import { hearAgain } from '../../app/authoring/remark.ts';
import type { Library, Rehearsal } from '../../app/host/api.ts';
import { BEFORE, fold, type State } from '../../app/marking/state.ts';
import { foldRun, NO_RUN } from '../../app/run/runState.ts';
import { planOf } from '../../app/run/testPlan.ts';
import { knownVariants, makeChecklist } from '../../app/skills/checklist.ts';
import type { Skill } from '../../app/skills/skill.ts';
import type { Reviewable } from './ReviewScreen.tsx';

/** Samples a second of the sound that the host keeps. */
const SAMPLE_RATE = 16_000;

/** The versions of a rehearsal's skill, the newest first, each once. */
export const versionsOf = (now: Skill | undefined, kept: readonly Skill[]): Skill[] =>
  [...(now ? [now] : []), ...kept]
    .filter(({ version }, i, all) => all.findIndex((other) => other.version === version) === i)
    .sort((a, b) => b.version - a.version);

/**
 * What of a record can be reviewed: its skill, or those of a test that were reached.
 *
 * @param skill the version that the machine marks under; null for a test, whose skills are marked as they are now
 * @throws {CannotDraw} a test's skills are no longer there
 */
export function reviewablesOf(
  { header, events, samples }: Rehearsal,
  library: Library,
  skill: Skill | null,
): Reviewable[] {
  const length = (state: State): number =>
    Math.max(samples / SAMPLE_RATE, state.ended ?? state.utterances.at(-1)?.end ?? 0);
  const test = events.reduce(foldRun, NO_RUN);
  if (test.drawn) {
    const { checklists } = planOf(library, test.drawn);
    return checklists.flatMap((checklist, i) => {
      const run = test.runs[i];
      return run ? [{ checklist, state: run.state, skill: i, seconds: length(run.state) }] : [];
    });
  }
  if (!skill) return [];
  const whole = makeChecklist(skill, library.lexicon, library.rules, knownVariants(skill, header.variants));
  const { only } = header;
  const steps = only ? whole.steps.filter(({ id }) => only.includes(id)) : whole.steps;
  const isAsMarked = skill.version === (header.version ?? skill.version);
  const state = isAsMarked ? events.reduce(fold, BEFORE) : hearAgain(whole, events);
  return [{ checklist: { ...whole, steps }, state, skill: 0, seconds: length(state) }];
}
