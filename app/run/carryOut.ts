import type { Evidence } from '../marking/assessment.ts';
import { carriedIn, carryOver } from './carryOver.ts';
import type { Command } from '../language/commands.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { foldRun, type RunState } from './runState.ts';
import type { RunPlan } from './testPlan.ts';

/** All that a command leads to, spoken or pressed. Which command was spoken, `attend.ts` tells. */

/** A command that was taken. */
export type Commanded = RehearsalEvent & { readonly type: 'commanded' };

/**
 * The command itself, and what it does to the skill that is open.
 *
 * @param at seconds; a pause begins then
 * @param evidence the words, or null where it was pressed
 */
export function obey(
  state: State,
  command: Command,
  at: number,
  evidence: Evidence | null,
): RehearsalEvent[] {
  const commanded: Commanded = { type: 'commanded', command, at, evidence };
  if (command === 'pause' && state.paused === null) return [commanded, { type: 'paused', at }];
  if (command === 'go on' && state.paused !== null)
    return [commanded, { type: 'resumed', at: Math.max(at, state.paused) }];
  return [commanded];
}

/** What a command asks of the run: to move on to the next skill, to end; null where it is of the open skill alone. */
export function asksFor(plan: RunPlan, { runs }: RunState, command: Command): 'next skill' | 'end' | null {
  if (command === 'stop') return 'end';
  if (command !== 'next skill') return null;
  return runs.length < plan.checklists.length ? 'next skill' : 'end';
}

/** The events with which a run begins. */
export function openRun(plan: RunPlan): RehearsalEvent[] {
  if (plan.form === null) {
    const carried = plan.continued ? plan.checklists.flatMap(carriedIn) : [];
    return [...openSkillOf(plan, 0), ...carried];
  }
  const { form, rules, seed, checklists } = plan;
  const skills = checklists.map(({ skill: { id, version }, variants }) => ({
    skill: id,
    variants,
    version,
  }));
  return [{ type: 'drawn', form, rules: rules.id, seed, skills }, ...openSkillOf(plan, 0)];
}

/** The events that close the open skill for good and open the next. In one piece: between two skills a test is not over. */
export function moveOn(plan: RunPlan, run: RunState, at: number): RehearsalEvent[] {
  const movedOn: RehearsalEvent = { type: 'moved on', at };
  const { runs } = foldRun(run, movedOn);
  return [movedOn, ...openSkillOf(plan, runs.length), ...carryOver(plan.checklists, runs)];
}

/** The event that opens a skill, by its index; none where there is no such skill. */
function openSkillOf({ checklists }: RunPlan, index: number): RehearsalEvent[] {
  return checklists
    .slice(index, index + 1)
    .map(({ skill, variants }) => ({ type: 'began', skill: skill.id, variants }));
}
