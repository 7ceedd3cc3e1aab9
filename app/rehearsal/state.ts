import type { Evidence } from './assessment.ts';
import { moveClock, NEW_CLOCK, type Clock } from './clocks.ts';
import { nameMovement, NO_COUNTS, sayCount, turnTo, type Counts } from './counts.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import type { Stance } from './polarity.ts';
import type { Utterance } from './utterance.ts';

/** Everything a rehearsal has come to, as a fold of its events: the same events give the same state, always. */
export interface State {
  readonly utterances: readonly Utterance[];
  /** Tokens of the latest utterance that a mark rests on. */
  readonly used: readonly number[];
  /** For each step, every saying that credits it, in order. */
  readonly credits: Readonly<Record<string, readonly Evidence[]>>;
  readonly doubts: Readonly<Record<string, { readonly evidence: Evidence; readonly why: Doubt }>>;
  readonly notes: Readonly<Record<string, { readonly evidence: Evidence; readonly stance: Stance }>>;
  readonly clocks: Readonly<Record<string, Clock>>;
  readonly counts: Counts;
  readonly readings: Readonly<Record<string, Reading>>;
  readonly ended: number | null;
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
  doubts: {},
  notes: {},
  clocks: {},
  counts: NO_COUNTS,
  readings: {},
  ended: null,
};

/** The next state. Total and pure: unknown steps are kept like any other, nothing is thrown. */
export function fold(state: State, event: RehearsalEvent): State {
  switch (event.type) {
    case 'began':
      return BEFORE;
    case 'heard':
      return { ...state, utterances: [...state.utterances, event.utterance], used: event.used };
    case 'credited':
      return { ...state, credits: credit(state, event) };
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
      const clock = moveClock(state.clocks[event.step] ?? NEW_CLOCK, event);
      const credits =
        event.move === 'start' && clock.running === event ? credit(state, event) : state.credits;
      return { ...state, credits, clocks: { ...state.clocks, [event.step]: clock } };
    }
    case 'movement': {
      const credits = event.form === 'named' ? state.credits : credit(state, event);
      return { ...state, credits, counts: nameMovement(state.counts, event.step, event.joint, event.form) };
    }
    case 'joint':
      return { ...state, counts: turnTo(state.counts, event.joint) };
    case 'repetition':
      return { ...state, counts: sayCount(state.counts, event.count) };
    case 'reading': {
      const { value, sure, rivals, evidence } = event;
      return { ...state, readings: { ...state.readings, [event.step]: { value, sure, rivals, evidence } } };
    }
    case 'ended':
      return { ...state, ended: event.at };
  }
}

/** The credits with one more saying of a step. */
function credit(
  { credits }: State,
  { step, evidence }: { step: string; evidence: Evidence },
): State['credits'] {
  return { ...credits, [step]: [...(credits[step] ?? []), evidence] };
}
