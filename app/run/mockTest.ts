import type { Assessment, Evidence, StepMark } from '../marking/assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Drawn, RehearsalEvent } from '../marking/events.ts';
import { interpret } from '../interpreting/interpret.ts';
import { markRehearsal } from '../marking/result.ts';
import type { Rules } from '../skills/skill.ts';
import { BEFORE, fold, hasBegun, type State } from '../marking/state.ts';
import { timeLeft } from '../marking/testClock.ts';
import { withoutJudge, type Utterance } from '../language/utterance.ts';

/**
 * A mock test: several skills one after the other, on one clock. A fold of the same events as a rehearsal; each skill has a
 * rehearsal's state of its own, which nothing changes once the trainee has moved on.
 */
export interface MockTest {
  /** Null before anything was drawn. */
  readonly drawn: Drawn | null;
  /** The skills that were reached, in order. */
  readonly runs: readonly Run[];
  /** What was said for a skill that was closed. */
  readonly late: readonly Late[];
  /** When the time was up, seconds of the recording; null when it was not. */
  readonly timeUp: number | null;
}

export interface Run {
  readonly state: State;
  /** Seconds of the recording at which it was opened and closed. */
  readonly from: number;
  readonly to: number | null;
}

export interface Late {
  /** Index of the skill in the test. */
  readonly skill: number;
  readonly step: string;
  readonly evidence: Evidence;
}

export const NO_TEST: MockTest = { drawn: null, runs: [], late: [], timeUp: null };

/** The next state of the test. Total and pure. What comes while no skill is open changes nothing. */
export function foldTest(test: MockTest, event: RehearsalEvent): MockTest {
  const { runs } = test;
  const last = runs.at(-1);
  const change = (run: Partial<Run>): MockTest =>
    last && last.to === null ? { ...test, runs: [...runs.slice(0, -1), { ...last, ...run }] } : test;
  switch (event.type) {
    case 'drawn':
      return { ...test, drawn: event };
    case 'began':
      return {
        ...test,
        runs: [...runs, { state: last ? goneOnTo(last.state) : BEFORE, from: last?.to ?? 0, to: null }],
      };
    case 'moved on':
      return change({ state: fold(last?.state ?? BEFORE, { type: 'ended', at: event.at }), to: event.at });
    case 'late': {
      const { skill, step, evidence } = event;
      return { ...test, late: [...test.late, { skill, step, evidence }] };
    }
    case 'time up':
      return { ...test, timeUp: event.at };
    case 'ended':
      return change({ state: fold(last?.state ?? BEFORE, event), to: event.at });
    default:
      return last ? change({ state: onTheClock(last.state, fold(last.state, event), event) }) : test;
  }
}

/** Who starts right away without saying that they are ready has begun with the first step. */
function onTheClock(before: State, after: State, event: RehearsalEvent): State {
  const isStart =
    event.type !== 'commanded' &&
    event.type !== 'carried' &&
    'evidence' in event &&
    !hasBegun(before) &&
    hasBegun(after);
  return isStart ? { ...after, begun: event.evidence.start } : after;
}

/** The next skill begins on the clock of the one before. */
function goneOnTo(before: State): State {
  if (!hasBegun(before)) return BEFORE;
  const { begun, pausedSeconds } = before;
  return { ...BEFORE, begun, pausedSeconds, commands: [{ command: 'begin', at: begun }] };
}

/** The run that is open; null when none is. */
export const openRun = ({ runs }: MockTest): Run | null => (runs.at(-1)?.to === null ? runs.at(-1)! : null);

/**
 * What the clock alone does up to a moment: the look-around time is over and the test begins, or the time is up and it
 * ends. At most one of the two.
 *
 * @param now seconds of the recording
 */
export function clockEvents(rules: Rules, test: MockTest, now: number): RehearsalEvent[] {
  const run = openRun(test);
  if (!run) return [];
  const lookAround = rules.lookAround * 60;
  if (!hasBegun(run.state) && rules.lookAround > 0 && now >= lookAround)
    return [{ type: 'commanded', command: 'begin', at: lookAround, evidence: null }];
  const left = timeLeft(rules, run.state, now);
  if (left === null || left > 0 || !hasBegun(run.state)) return [];
  const at = now + left;
  return [
    { type: 'time up', at },
    { type: 'ended', at },
  ];
}

/**
 * How well words must fit a step of a closed skill: "I check that the food is not too hot" fits "…that the water is…" at 0.81,
 * and belongs to no skill but its own.
 */
const LATE_FROM = 0.85;

/**
 * The steps of closed skills that an utterance would have credited and that were missed there: too late. Only where it says
 * nothing of the open skill, and no step that this one has as well ("I wash my hands").
 *
 * @param checklists of the whole test, in order
 * @param events what the utterance led to in the open skill
 */
export function lateIn(
  checklists: readonly Checklist[],
  test: MockTest,
  utterance: Utterance,
  events: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const isNarrated = events.some((e) => e.type === 'heard');
  const says = events.some((e) => 'step' in e && e.type !== 'noted' && e.type !== 'doubted');
  if (!isNarrated || says) return [];
  // The judge was asked about the open skill's steps alone.
  const unjudged = withoutJudge(utterance);
  const open = test.runs.length - 1;
  const ours = new Set(checklists[open]?.steps.map(({ id }) => id));
  for (let skill = open - 1; skill >= 0; skill--) {
    const { state } = test.runs[skill]!;
    const found = interpret(checklists[skill]!, { ...state, utterances: [] }, unjudged).flatMap((e) =>
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
  test: MockTest,
  evaluator: Readonly<Record<string, Readonly<Record<string, number>>>> = {},
): TestResult {
  const skills = checklists.map((checklist, i): SkillResult => {
    const run = test.runs[i];
    const state = run?.state ?? BEFORE;
    const { skill, variants } = checklist;
    return {
      skill: skill.id,
      title: skill.title,
      variants,
      reached: run !== undefined,
      from: run?.from ?? null,
      to: run?.to ?? null,
      ...markRehearsal(checklist, state, evaluator[skill.id]),
      repairs: state.repairs,
      late: test.late.filter((late) => late.skill === i),
      breaks: state.breaks,
      pauses: state.pauses,
    };
  });
  const passedSkills = skills.filter(({ result }) => result.passed).length;
  const needed = Math.min(checklists.length, rules.skillsToPass ?? checklists.length);
  return { skills, passed: passedSkills >= needed, passedSkills, needed, timeUp: test.timeUp };
}
