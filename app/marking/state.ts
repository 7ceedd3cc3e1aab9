import type { AsideReason, Evidence, Outcome } from './assessment.ts';
import { moveClock, NEW_CLOCK, type Clock, type ClockMove } from './clocks.ts';
import type { Command } from '../language/commands.ts';
import { beingCounted, nameMovement, NO_COUNTS, sayCount, turnTo, type Counts } from './counts.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import type { Manner, Stance } from '../language/stance.ts';
import type { Utterance } from '../language/utterance.ts';

/** Everything a rehearsal has come to, as a fold of its events: the same events give the same state, always. */
export interface State {
  readonly utterances: readonly Utterance[];
  /** Tokens of the latest utterance that a mark rests on. */
  readonly used: readonly number[];
  /** For each step, every saying that credits it, in order. */
  readonly credits: Readonly<Record<string, readonly Credit[]>>;
  /** The steps that need not be said here, and where they were done. */
  readonly carried: Readonly<Record<string, Carried>>;
  readonly doubts: Readonly<Record<string, { readonly evidence: Evidence; readonly why: Doubt }>>;
  readonly notes: Readonly<Record<string, { readonly evidence: Evidence; readonly stance: Stance }>>;
  readonly clocks: Readonly<Record<string, Clock>>;
  /** When the clocks ran, in order; `to` is null while one runs. */
  readonly timings: readonly Timing[];
  readonly counts: Counts;
  readonly readings: Readonly<Record<string, Reading>>;
  /** What was heard and not interpreted, in order. */
  readonly asides: readonly Aside[];
  /** Steps that a partial result credits and no final one has settled. */
  readonly tentative: Readonly<Record<string, Tentative>>;
  /** Tentative credits that the final text did not bear out, in order. */
  readonly withdrawn: readonly (Tentative & { readonly step: string })[];
  readonly spoken: readonly Spoken[];
  /** Since when a correction is open, seconds; null while none is. What is said next is taken for the repair first. */
  readonly correcting: number | null;
  /** What was put right, in order. */
  readonly repairs: readonly Repair[];
  readonly commands: readonly { readonly command: Command; readonly at: number }[];
  /** When it began: at the first "begin", or with the recording where steps were said without one. */
  readonly begun: number;
  /** Since when it is paused; null while it is not. */
  readonly paused: number | null;
  /** The pauses that are over, in order. */
  readonly pauses: readonly Stretch[];
  /** Where it was broken off and opened again later, seconds of the recording, in order. */
  readonly breaks: readonly number[];
  /** Seconds of the pauses that are over, since the test began. */
  readonly pausedSeconds: number;
  readonly ended: number | null;
}

/** A saying that credits a step. */
export interface Credit extends Evidence {
  readonly manner: Manner;
}

/** A step carried over: from which step of which skill of the test, or from before the rehearsal. */
export interface Carried {
  readonly from: { readonly skill: number; readonly title: string; readonly step: string } | null;
  readonly evidence: Evidence | null;
  readonly manner: Manner;
}

/** A stretch of time, in seconds. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
}

export interface Timing {
  readonly step: string;
  readonly from: number;
  readonly to: number | null;
}

export interface Aside {
  readonly utterance: Utterance;
  readonly why: AsideReason;
}

/** The words heard of a step, and when. */
export interface Tentative {
  readonly text: string;
  readonly at: number;
}

/** What the coach said, and when it began and ended. */
export interface Spoken extends Stretch {
  readonly text: string;
}

/** A slip that was put right: how the step was marked before, and the words that repaired it. */
export interface Repair {
  readonly step: string;
  readonly slip: Outcome;
  readonly evidence: Evidence;
}

export interface Reading {
  readonly value: number;
  readonly sure: boolean;
  readonly rivals: readonly number[];
  readonly evidence: Evidence;
}

export const BEFORE: State = {
  utterances: [],
  used: [],
  credits: {},
  carried: {},
  doubts: {},
  notes: {},
  clocks: {},
  timings: [],
  counts: NO_COUNTS,
  readings: {},
  asides: [],
  tentative: {},
  withdrawn: [],
  spoken: [],
  correcting: null,
  repairs: [],
  commands: [],
  begun: 0,
  paused: null,
  pauses: [],
  breaks: [],
  pausedSeconds: 0,
  ended: null,
};

/**
 * The next state. Total and pure: unknown steps are kept like any other, nothing is thrown. What concerns a mock test as a
 * whole changes nothing here.
 */
export function fold(state: State, event: RehearsalEvent): State {
  switch (event.type) {
    case 'began':
      return BEFORE;
    case 'heard':
      return { ...state, utterances: [...state.utterances, event.utterance], used: event.used };
    case 'carried': {
      const { step, from, evidence, manner = 'done' } = event;
      return { ...state, carried: { ...state.carried, [step]: { from, evidence, manner } } };
    }
    case 'credited':
      return {
        ...state,
        credits: credit(state, event, event.manner ?? 'done'),
        tentative: without(state.tentative, event.step),
      };
    case 'doubted':
      return {
        ...state,
        doubts: { ...state.doubts, [event.step]: { evidence: event.evidence, why: event.why } },
      };
    case 'noted':
      return {
        ...state,
        notes: { ...state.notes, [event.step]: { evidence: event.evidence, stance: event.stance } },
      };
    case 'clock': {
      const moved = moveOn(state, event.step, event);
      const started = event.move === 'start' && moved.clocks[event.step]!.running === event;
      return started
        ? { ...moved, credits: credit(state, event, event.announced ? 'begun' : 'done') }
        : moved;
    }
    case 'movement': {
      const isDone = event.form === 'full' || event.form === 'short';
      const credits = isDone ? credit(state, event, 'done') : state.credits;
      return { ...state, credits, counts: nameMovement(state.counts, event.step, event.joint, event.form) };
    }
    case 'joint':
      return { ...state, counts: turnTo(state.counts, event.joint) };
    case 'repetition': {
      const counts = sayCount(state.counts, event.count);
      const shown = beingCounted(state.counts).filter((step) => {
        const count = counts.movements[step];
        return count?.begun && count.number > 0 && !(step in state.credits);
      });
      const credits = shown.reduce(
        (now, step) => credit({ credits: now }, { step, evidence: event.evidence }, 'begun'),
        state.credits,
      );
      return { ...state, credits, counts };
    }
    case 'reading': {
      const { value, sure, rivals, evidence } = event;
      return { ...state, readings: { ...state.readings, [event.step]: { value, sure, rivals, evidence } } };
    }
    case 'aside':
      return { ...state, asides: [...state.asides, { utterance: event.utterance, why: event.why }] };
    case 'tentative':
      return {
        ...state,
        tentative: { ...state.tentative, [event.step]: { text: event.text, at: event.at } },
      };
    case 'withdrawn': {
      const { step, text, at } = event;
      return {
        ...state,
        tentative: without(state.tentative, step),
        withdrawn: [...state.withdrawn, { step, text, at }],
      };
    }
    case 'spoke': {
      const { text, from, to } = event;
      return { ...state, spoken: [...state.spoken.filter((s) => s.from !== from), { text, from, to }] };
    }
    case 'commanded': {
      const { command, at } = event;
      const first = command === 'begin' && !hasBegun(state);
      return {
        ...state,
        commands: [...state.commands, { command, at }],
        correcting: command === 'correct' ? at : state.correcting,
        ...(first && { begun: at, pausedSeconds: 0 }),
      };
    }
    case 'repaired': {
      const { step, slip, evidence } = event;
      return { ...state, correcting: null, repairs: [...state.repairs, { step, slip, evidence }] };
    }
    case 'drawn':
    case 'moved on':
    case 'late':
    case 'time up':
    case 'loudness':
      return state;
    case 'paused':
      return {
        ...state,
        paused: state.paused ?? event.at,
        ...(event.brokenOff && { breaks: [...state.breaks, event.at] }),
      };
    case 'resumed': {
      const { paused } = state;
      if (paused === null) return state;
      const to = Math.max(paused, event.at);
      return {
        ...stopAll(state, paused),
        paused: null,
        pauses: [...state.pauses, { from: paused, to }],
        pausedSeconds: state.pausedSeconds + Math.max(0, to - Math.max(paused, state.begun)),
      };
    }
    case 'ended':
      return { ...(state.paused === null ? state : stopAll(state, state.paused)), ended: event.at };
  }
}

/** Whether "begin" has been said or pressed, or a step said without it. */
export const hasBegun = ({ commands, credits }: State): boolean =>
  commands.some((c) => c.command === 'begin') || Object.keys(credits).length > 0;

/** Moves a step's clock, and keeps when it ran. */
function moveOn(state: State, step: string, move: ClockMove): State {
  const was = state.clocks[step] ?? NEW_CLOCK;
  const is = moveClock(was, move);
  const clocks = { ...state.clocks, [step]: is };
  if ((was.running === null) === (is.running === null) && was.running?.at === is.running?.at)
    return { ...state, clocks };
  const timings = is.running
    ? [
        // One that was only announced begins later.
        ...state.timings.filter((t) => t.step !== step || t.to !== null),
        { step, from: move.at, to: null },
      ]
    : state.timings.map((t) =>
        t.step === step && t.to === null ? { ...t, to: Math.max(t.from, move.at) } : t,
      );
  return { ...state, clocks, timings };
}

/**
 * The state as a pause leaves it: every go under way ended when the pause began. It keeps the time it had and does not go
 * on after the pause, however short: nobody heard what the hands did meanwhile, and twenty seconds of rubbing in two halves
 * with a telephone call between them are not twenty seconds. The trainee says the start again, and the longest go counts.
 *
 * Done when the pause is over, not when it begins: what was said before it may still be in recognition, and stop a clock
 * earlier.
 */
const stopAll = (state: State, at: number): State =>
  Object.keys(state.clocks).reduce(
    (now, step) => moveOn(now, step, { move: 'stop', at, uncertainty: 0 }),
    state,
  );

function without<T>(record: Readonly<Record<string, T>>, key: string): Readonly<Record<string, T>> {
  if (!(key in record)) return record;
  return Object.fromEntries(Object.entries(record).filter(([k]) => k !== key));
}

/** The credits with one more saying of a step. */
function credit(
  { credits }: Pick<State, 'credits'>,
  { step, evidence }: { step: string; evidence: Evidence },
  manner: Manner,
): State['credits'] {
  return { ...credits, [step]: [...(credits[step] ?? []), { ...evidence, manner }] };
}
