import type { Checklist } from '../skills/checklist.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import type { SkillRun } from './runState.ts';
import { outcomesOf } from '../marking/result.ts';
import type { CarryOver } from '../skills/skill.ts';
import type { Credit, State } from '../marking/state.ts';

/** What needs no saying again: identity at the first meeting, hands washed at the end of the skill before. */

type CarriedEvent = RehearsalEvent & { readonly type: 'carried' };

/**
 * What carries over into the skill that is about to be opened.
 *
 * @param checklists of the whole test, in order
 * @param runs the skills done so far
 */
export function carryOver(checklists: readonly Checklist[], runs: readonly SkillRun[]): CarriedEvent[] {
  const next = checklists[runs.length];
  if (!next || next.rules.carriesOver.length === 0) return [];
  // No more skills were done than the test has.
  const outcomes = runs.map(({ state }, skill) => outcomesOf(checklists[skill]!, state));
  return next.rules.carriesOver.flatMap((rule): CarriedEvent[] => {
    if (!next.steps.some(({ id }) => id === rule.step)) return [];
    const source = latestSource(rule, outcomes, runs);
    if (!source || isEnded(rule, source, checklists, runs)) return [];
    const { skill, step, credit } = source;
    const { manner, ...evidence } = credit;
    return [
      {
        type: 'carried',
        step: rule.step,
        // The source is one of the skills that were done.
        from: { skill, title: checklists[skill]!.skill.title, step },
        evidence,
        ...(manner !== 'done' && { manner }),
      },
    ];
  });
}

/** What a rehearsal of one skill begins with where the hands were washed just before and the resident is known. */
export const carriedIn = ({ rules, steps }: Checklist): CarriedEvent[] =>
  rules.carriesOver
    .filter(({ step }) => steps.some(({ id }) => id === step))
    .map(({ step }) => ({ type: 'carried', step, from: null, evidence: null }));

interface Source {
  /** Index of the skill. */
  readonly skill: number;
  readonly step: string;
  readonly credit: Credit;
}

/** The last step that does it and that was simply heard. */
function latestSource(
  { from }: CarryOver,
  outcomes: readonly ReturnType<typeof outcomesOf>[],
  runs: readonly SkillRun[],
): Source | null {
  const sources = runs.flatMap(({ state }, skill) =>
    from.flatMap((step): Source[] => {
      const credit = lastSaying(state, step);
      return credit && outcomes[skill]?.get(step) === 'heard' ? [{ skill, step, credit }] : [];
    }),
  );
  return sources.reduce<Source | null>(
    (last, source) => (last && last.credit.start > source.credit.start ? last : source),
    null,
  );
}

const lastSaying = ({ credits }: State, step: string): Credit | null => credits[step]?.at(-1) ?? null;

/** Whether something since then has undone it. */
function isEnded(
  { until, endedBy }: CarryOver,
  { skill, credit }: Source,
  checklists: readonly Checklist[],
  runs: readonly SkillRun[],
): boolean {
  if (until === 'next skill' && skill !== runs.length - 1) return true;
  const residents = checklists.slice(skill, runs.length + 1).flatMap((c) => c.skill.resident ?? []);
  if (until === 'next resident' && new Set(residents).size > 1) return true;
  return runs.some(({ state }) =>
    endedBy.some((step) => (lastSaying(state, step)?.start ?? -Infinity) > credit.start),
  );
}
