import type { AsideReason, Evidence, Outcome } from './assessment.ts';
import type { Handled } from '../bench/resident/instruments.ts';
import type { Resident } from '../bench/resident/resident.ts';
import type { Command } from '../language/commands.ts';
import { beingCounted, nameMovement, NO_COUNTS, sayCount, turnTo, type Counts } from './counts.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import { moveOn, stopAll, type Timings } from './timings.ts';
import type { Manner, Stance } from '../language/stance.ts';
import type { Utterance } from '../language/utterance.ts';

/** Everything a rehearsal has come to, as a fold of its events: the same events give the same state, always. */
export interface State extends Timings {
  readonly utterances: readonly Utterance[];
  /** Tokens of the latest utterance that a mark rests on. */
  readonly used: readonly number[];
  /** For each step, every saying that credits it, in order. */
  readonly credits: Readonly<Record<string, readonly Credit[]>>;
  /** The steps that need not be said here, and where they were done. */
  readonly carried: Readonly<Record<string, Carried>>;
  readonly doubts: Readonly<Record<string, { readonly evidence: Evidence; readonly why: Doubt }>>;
  readonly notes: Readonly<Record<string, { readonly evidence: Evidence; readonly stance: Stance }>>;
  readonly counts: Counts;
  readonly readings: Readonly<Record<string, Reading>>;
  /** Null once something was said after it. */
  readonly readBack: ReadBack | null;
  /** The simulated resident, and what was done with them, in order; null where there is none. */
  readonly bench: Bench | null;
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

/** A simulated resident who was met, and what was done with them. */
export interface Bench {
  readonly resident: Resident;
  readonly handled: readonly Handled[];
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

/** A number that was read, as its event tells it, and what the trainee said to it afterwards. */
export interface Reading extends Pick<Event<'reading'>, 'value' | 'sure' | 'rivals' | 'evidence' | 'said'> {
  /** Why it is asked about; null where it is sure. */
  readonly why: NonNullable<Event<'reading'>['why']> | 'taken back' | null;
  /** The words that confirmed it; null where none did. */
  readonly confirmed: Evidence | null;
}

/** The numbers that the coach has read back and the trainee may answer to, and when it did so. */
export type ReadBack = Pick<Event<'read back'>, 'readings' | 'at'>;

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
  readBack: null,
  bench: null,
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
 * whole, and what a person says afterwards, changes nothing here.
 */
export function fold(state: State, event: RehearsalEvent): State {
  switch (event.type) {
    case 'began':
      return BEFORE;
    case 'heard':
      return hear(state, event);
    case 'carried':
      return carry(state, event);
    case 'credited':
      return {
        ...withCredit(state, event, event.manner ?? 'done'),
        tentative: without(state.tentative, event.step),
      };
    case 'doubted': {
      const { step, evidence, why } = event;
      return { ...state, doubts: { ...state.doubts, [step]: { evidence, why } } };
    }
    case 'noted': {
      const { step, evidence, stance } = event;
      return { ...state, notes: { ...state.notes, [step]: { evidence, stance } } };
    }
    case 'clock':
      return moveStepClock(state, event);
    case 'movement':
      return move(state, event);
    case 'joint':
      return { ...state, counts: turnTo(state.counts, event.joint) };
    case 'repetition':
      return count(state, event);
    case 'reading':
      return read(state, event);
    case 'read back':
      return readBack(state, event);
    case 'confirmed':
      return changeReading(state, event.step, { sure: true, why: null, confirmed: event.evidence });
    case 'taken back':
      return changeReading(state, event.step, { sure: false, why: 'taken back', confirmed: null });
    case 'met': {
      const { measure, seed, pattern, at } = event;
      return { ...state, bench: { resident: { measure, seed, pattern, at }, handled: [] } };
    }
    case 'handled': {
      const { at, how } = event;
      const { bench } = state;
      return { ...state, bench: bench && { ...bench, handled: [...bench.handled, { at, how }] } };
    }
    case 'aside':
      return { ...state, asides: [...state.asides, { utterance: event.utterance, why: event.why }] };
    case 'tentative': {
      const { step, text, at } = event;
      return { ...state, tentative: { ...state.tentative, [step]: { text, at } } };
    }
    case 'withdrawn': {
      const { step, text, at } = event;
      const withdrawn = [...state.withdrawn, { step, text, at }];
      return { ...state, tentative: without(state.tentative, step), withdrawn };
    }
    case 'spoke': {
      const { text, from, to } = event;
      return { ...state, spoken: [...state.spoken.filter((s) => s.from !== from), { text, from, to }] };
    }
    case 'commanded':
      return command(state, event);
    case 'repaired': {
      const { step, slip, evidence } = event;
      return { ...state, correcting: null, repairs: [...state.repairs, { step, slip, evidence }] };
    }
    case 'paused': {
      const breaks = event.brokenOff ? [...state.breaks, event.at] : state.breaks;
      return { ...state, paused: state.paused ?? event.at, breaks };
    }
    case 'resumed':
      return resume(state, event);
    case 'ended':
      return {
        ...state,
        ...(state.paused !== null && stopAll(state, state.paused)),
        ended: event.at,
      };
    case 'drawn':
    case 'moved on':
    case 'late':
    case 'time up':
    case 'loudness':
    case 'reviewed':
    case 'measured':
    case 'commented':
    case 'signed off':
      return state;
  }
}

type Event<T extends RehearsalEvent['type']> = RehearsalEvent & { readonly type: T };

/** What is said after a number was read back leaves it behind. */
function hear(state: State, { utterance, used }: Event<'heard'>): State {
  const isAfter = state.readBack !== null && utterance.start > state.readBack.at;
  const utterances = [...state.utterances, utterance];
  return { ...state, utterances, used, readBack: isAfter ? null : state.readBack };
}

function read(state: State, { step, value, sure, rivals, evidence, why, said }: Event<'reading'>): State {
  const asked = sure ? null : (why ?? 'unclear');
  const reading = { value, sure, rivals, evidence, why: asked, confirmed: null, ...(said && { said }) };
  return { ...state, readings: { ...state.readings, [step]: reading } };
}

/** A number that takes the place of another counts once the trainee has had it read back; that it was misheard can still be said. */
function readBack(state: State, { readings, at }: Event<'read back'>): State {
  return readings.reduce<State>(
    (now, { step, value }) => {
      const { why, value: read } = now.readings[step] ?? {};
      return why === 'changed' && read === value ? changeReading(now, step, { sure: true, why: null }) : now;
    },
    { ...state, readBack: { readings, at } },
  );
}

function changeReading(state: State, step: string, change: Partial<Reading>): State {
  const reading = state.readings[step];
  return reading ? { ...state, readings: { ...state.readings, [step]: { ...reading, ...change } } } : state;
}

function carry(state: State, { step, from, evidence, manner = 'done' }: Event<'carried'>): State {
  return { ...state, carried: { ...state.carried, [step]: { from, evidence, manner } } };
}

/** A clock moves; what starts it credits its step. */
function moveStepClock(state: State, event: Event<'clock'>): State {
  const moved = { ...state, ...moveOn(state, event.step, event) };
  const isStarted = event.move === 'start' && moved.clocks[event.step]?.running === event;
  return isStarted ? withCredit(moved, event, event.announced ? 'begun' : 'done') : moved;
}

/** A movement is named; where it is done, that credits it. */
function move(state: State, event: Event<'movement'>): State {
  const { step, joint, form } = event;
  const named = { ...state, counts: nameMovement(state.counts, step, joint, form) };
  return form === 'full' || form === 'short' ? withCredit(named, event, 'done') : named;
}

/** A repetition is counted, which shows that a movement that had only been announced was done. */
function count(state: State, { count: said, evidence }: Event<'repetition'>): State {
  const counts = sayCount(state.counts, said);
  const shown = beingCounted(state.counts).filter((step) => {
    const movement = counts.movements[step];
    return movement && movement.begun > 0 && movement.number > 0 && !(step in state.credits);
  });
  return shown.reduce((now, step) => withCredit(now, { step, evidence }, 'begun'), { ...state, counts });
}

function command(state: State, { command: said, at }: Event<'commanded'>): State {
  const isFirst = said === 'begin' && !hasBegun(state);
  return {
    ...state,
    commands: [...state.commands, { command: said, at }],
    correcting: said === 'correct' ? at : state.correcting,
    ...(isFirst && { begun: at, pausedSeconds: 0 }),
  };
}

/** A pause is over; one that has never begun changes nothing. */
function resume(state: State, { at }: Event<'resumed'>): State {
  const { paused } = state;
  if (paused === null) return state;
  const to = Math.max(paused, at);
  return {
    ...state,
    ...stopAll(state, paused),
    paused: null,
    pauses: [...state.pauses, { from: paused, to }],
    pausedSeconds: state.pausedSeconds + Math.max(0, to - Math.max(paused, state.begun)),
  };
}

/** Whether "begin" has been said or pressed, or a step said without it. */
export const hasBegun = ({ commands, credits }: State): boolean =>
  commands.some((c) => c.command === 'begin') || Object.keys(credits).length > 0;

function without<T>(record: Readonly<Record<string, T>>, key: string): Readonly<Record<string, T>> {
  if (!(key in record)) return record;
  return Object.fromEntries(Object.entries(record).filter(([k]) => k !== key));
}

/** The state with one more saying of a step. */
function withCredit(
  state: State,
  { step, evidence }: { readonly step: string; readonly evidence: Evidence },
  manner: Manner,
): State {
  const said = [...(state.credits[step] ?? []), { ...evidence, manner }];
  return { ...state, credits: { ...state.credits, [step]: said } };
}
