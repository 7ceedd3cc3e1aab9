import type { Assessment, StepMark } from '../marking/assessment.ts';
import { stepOf } from './attend.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { interpret } from '../interpreting/interpret.ts';
import { markRehearsal } from '../marking/result.ts';
import type { Rules } from '../skills/skill.ts';
import { BEFORE, hasBegun, type State } from '../marking/state.ts';
import { timeLeft } from '../marking/testClock.ts';
import { withoutJudge, type Utterance } from '../language/utterance.ts';
import { openSkill, type Late, type RunState } from './runState.ts';

/** What only a mock test has: its clock, what is said for a closed skill, its result. */

/** What the clock alone does: the test begins as the time to look around is over, or ends as its time is up. */
export interface Due {
  readonly what: 'begin' | 'time up';
  /** Seconds of the recording. */
  readonly at: number;
}

/**
 * The first thing that the clock does by a moment; null where there is none, as always in practice.
 *
 * @param now seconds of the recording
 */
export function dueBy(rules: Rules, run: RunState, now: number): Due | null {
  const open = openSkill(run);
  if (!run.drawn || !open) return null;
  const lookAround = rules.lookAround * 60;
  if (!hasBegun(open.state))
    return rules.lookAround > 0 && now >= lookAround ? { what: 'begin', at: lookAround } : null;
  const left = timeLeft(rules, open.state, now);
  return left !== null && left <= 0 ? { what: 'time up', at: now + left } : null;
}

/** The events of what the clock does. */
export const clockEvents = ({ what, at }: Due): RehearsalEvent[] =>
  what === 'begin'
    ? [{ type: 'commanded', command: 'begin', at, evidence: null }]
    : [
        { type: 'time up', at },
        { type: 'ended', at },
      ];

/**
 * How well words must fit a step of a closed skill: "I check that the food is not too hot" fits "…that the water is…" at 0.81,
 * and belongs to no skill but its own.
 */
const LATE_FROM = 0.85;

/** Events about a step that its utterance has not said. */
const SAYS_NOTHING: ReadonlySet<RehearsalEvent['type']> = new Set(['noted', 'doubted', 'withdrawn']);

/**
 * The steps of closed skills that an utterance would have credited and that were missed there: too late. Only where it says
 * nothing of the open skill, and no step that this one has as well ("I wash my hands").
 *
 * @param checklists of the whole test, in order
 * @param events what the utterance led to in the open skill
 */
export function lateIn(
  checklists: readonly Checklist[],
  run: RunState,
  utterance: Utterance,
  events: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const isNarrated = events.some((e) => e.type === 'heard');
  const says = events.some((e) => stepOf(e) !== null && !SAYS_NOTHING.has(e.type));
  if (!isNarrated || says) return [];
  // The judge was asked about the open skill's steps alone.
  const unjudged = withoutJudge(utterance);
  const open = run.runs.length - 1;
  const ours = new Set(checklists[open]?.steps.map(({ id }) => id));
  for (let skill = open - 1; skill >= 0; skill--) {
    const [closed, checklist] = [run.runs[skill], checklists[skill]];
    if (!closed || !checklist) continue;
    const { state } = closed;
    const found = interpret(checklist, { ...state, utterances: [] }, unjudged).flatMap((e) =>
      e.type === 'credited' &&
      e.evidence.score >= LATE_FROM &&
      !ours.has(e.step) &&
      !(e.step in state.credits)
        ? [{ type: 'late' as const, skill, step: e.step, evidence: e.evidence }]
        : [],
    );
    if (found.length > 0) return found;
  }
  return [];
}

/** One skill's part of the result. */
export interface SkillResult extends Pick<Assessment, 'clocks' | 'counts' | 'readings' | 'result'> {
  readonly skill: string;
  readonly title: string;
  readonly variants: Readonly<Record<string, string>>;
  /** Whether the test came to it; all its steps are `not heard` otherwise. */
  readonly reached: boolean;
  /** Seconds of the recording; null where it was not reached. */
  readonly from: number | null;
  readonly to: number | null;
  readonly steps: readonly StepMark[];
  /** Slips that were put right while it was open. */
  readonly repairs: State['repairs'];
  /** Its steps that were said after it had been closed. */
  readonly late: readonly Late[];
  /** Where it was broken off and gone on with, and the pauses in it. */
  readonly breaks: State['breaks'];
  readonly pauses: State['pauses'];
}

export interface TestResult {
  readonly skills: readonly SkillResult[];
  readonly passed: boolean;
  /** How many skills passed, and how many must. */
  readonly passedSkills: number;
  readonly needed: number;
  readonly timeUp: number | null;
}

/**
 * Marks a mock test by its rules. Pure.
 *
 * @param checklists of all its skills, in order
 * @param evaluator the evaluator's own numbers, by skill and step, where somebody took them
 */
export function markTest(
  checklists: readonly Checklist[],
  rules: Rules,
  run: RunState,
  evaluator: Readonly<Record<string, Readonly<Record<string, number>>>> = {},
): TestResult {
  const skills = checklists.map((checklist, i): SkillResult => {
    const sat = run.runs[i];
    const state = sat?.state ?? BEFORE;
    const { skill, variants } = checklist;
    return {
      skill: skill.id,
      title: skill.title,
      variants,
      reached: sat !== undefined,
      from: sat?.from ?? null,
      to: sat?.to ?? null,
      ...markRehearsal(checklist, state, evaluator[skill.id]),
      repairs: state.repairs,
      late: run.late.filter((late) => late.skill === i),
      breaks: state.breaks,
      pauses: state.pauses,
    };
  });
  const passedSkills = skills.filter(({ result }) => result.passed).length;
  const needed = Math.min(checklists.length, rules.skillsToPass ?? checklists.length);
  return { skills, passed: passedSkills >= needed, passedSkills, needed, timeUp: run.timeUp };
}
