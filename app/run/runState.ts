import type { Evidence } from '../marking/assessment.ts';
import type { Drawn, RehearsalEvent } from '../marking/events.ts';
import { BEFORE, fold, hasBegun, type State } from '../marking/state.ts';

/**
 * All that a run has come to: one skill in practice, or the skills of a mock test, one after the other on one clock. A fold of
 * its events; each skill has a state of its own, which nothing changes once the trainee has moved on.
 */
export interface RunState {
  /** How the skills of a mock test were drawn; null in practice. */
  readonly drawn: Drawn | null;
  /** The skills that were reached, in order. */
  readonly runs: readonly SkillRun[];
  /** What was said for a skill that was closed. */
  readonly late: readonly Late[];
  /** When the time was up, seconds of the recording; null when it was not. */
  readonly timeUp: number | null;
}

/** One skill of a run. */
export interface SkillRun {
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

export const NO_RUN: RunState = { drawn: null, runs: [], late: [], timeUp: null };

const FIRST: SkillRun = { state: BEFORE, from: 0, to: null };

/** The next state of a run. Total and pure. */
export function foldRun(run: RunState, event: RehearsalEvent): RunState {
  switch (event.type) {
    case 'drawn':
      return { ...run, drawn: event };
    case 'began':
      return { ...run, runs: run.drawn ? [...run.runs, nextSkill(run.runs.at(-1))] : [FIRST] };
    case 'late': {
      const { skill, step, evidence } = event;
      return { ...run, late: [...run.late, { skill, step, evidence }] };
    }
    case 'time up':
      return { ...run, timeUp: event.at };
    case 'moved on':
      return changeLast(run, { type: 'ended', at: event.at });
    default:
      return changeLast(run, event);
  }
}

/** The skill that is open; null when none is. */
export const openSkill = ({ runs }: RunState): SkillRun | null => {
  const last = runs.at(-1);
  return last?.to === null ? last : null;
};

/** A skill of a test looked at by itself: it begins where the one before was closed, not with the clock of the test. */
export const byItself = ({ state, from }: Pick<SkillRun, 'state' | 'from'>): State => ({
  ...state,
  begun: Math.max(state.begun, from),
});

/** The next skill of a test, which begins on the clock of the one before. */
function nextSkill(before: SkillRun | undefined): SkillRun {
  if (!before) return FIRST;
  const from = before.to ?? 0;
  if (!hasBegun(before.state)) return { ...FIRST, from };
  const { begun, pausedSeconds } = before.state;
  const state: State = { ...BEFORE, begun, pausedSeconds, commands: [{ command: 'begin', at: begun }] };
  return { state, from, to: null };
}

/**
 * Lets an event happen to the last skill. In a test nothing changes while none is open. In practice the coach may still have
 * been speaking when it ended, and a journal whose first line is damaged holds the rest.
 */
function changeLast(run: RunState, event: RehearsalEvent): RunState {
  const { drawn, runs } = run;
  const last = runs.at(-1) ?? (drawn ? null : FIRST);
  if (!last || (drawn && last.to !== null)) return run;
  const after = fold(last.state, event);
  const state = drawn ? onTheClock(last.state, after, event) : after;
  const to = event.type === 'ended' ? event.at : last.to;
  return { ...run, runs: [...runs.slice(0, -1), { ...last, state, to }] };
}

/** Who starts a test without saying that they are ready has begun it with the first step. */
function onTheClock(before: State, after: State, event: RehearsalEvent): State {
  if (hasBegun(before) || !hasBegun(after)) return after;
  switch (event.type) {
    case 'credited':
    case 'clock':
    case 'movement':
    case 'repetition':
      return { ...after, begun: event.evidence.start };
    default:
      return after;
  }
}
