import type { Checklist } from '../../app/skills/checklist.ts';
import { NEW_CLOCK, secondsSoFar, type Clock } from '../../app/marking/clocks.ts';
import { beingCounted, repetitions } from '../../app/marking/counts.ts';
import type { StepMark } from '../../app/marking/assessment.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { fold, type State } from '../../app/marking/state.ts';
import { elapsed, timeLeft } from '../../app/marking/testClock.ts';

/** What the room's screen shows of a step. `short`: said, and not yet as long or as often as it must be. */
export type RowState =
  | 'open'
  | 'tentative'
  | 'withdrawn'
  | 'running'
  | 'short'
  | 'unsure'
  | 'out of order'
  | 'heard'
  | 'needs eyes';

export interface Row {
  readonly id: string;
  readonly text: string;
  readonly critical: boolean;
  readonly state: RowState;
  /** Why it stands so, in a sentence; empty when there is nothing to say. */
  readonly note: string;
  /** When it was last said, seconds; null when it was not. */
  readonly at: number | null;
}

/** What a pause leaves, once it is over: no clock runs on through it. */
const afterPause = (state: State): State =>
  state.paused === null ? state : fold(state, { type: 'resumed', at: state.paused });

/**
 * Every step as it stands now, in the order of the checklist.
 *
 * @param only ids of the steps that are rehearsed; null for all of them
 */
export function rowsOf(checklist: Checklist, now: State, only: ReadonlySet<string> | null): Row[] {
  const state = afterPause(now);
  const { steps } = markRehearsal(checklist, state);
  return steps
    .filter((mark) => only === null || only.has(mark.id))
    .map((mark) => ({ id: mark.id, text: mark.text, critical: mark.critical, ...standingOf(state, mark) }));
}

function standingOf(state: State, { id, outcome, note, at }: StepMark): Pick<Row, 'state' | 'at' | 'note'> {
  const said = state.credits[id]?.at(-1)?.start ?? at;
  const tentative = state.tentative[id];
  const withdrawn = state.withdrawn.findLast((each) => each.step === id);
  if (outcome === 'needs eyes') return { state: outcome, at: null, note };
  if (state.clocks[id]?.running) return { state: 'running', at: said, note: '' };
  if (outcome === 'heard' || outcome === 'out of order') return { state: outcome, at: said, note };
  if (tentative) return { state: 'tentative', at: tentative.at, note: '' };
  if (outcome === 'unsure') return { state: outcome, at: said, note };
  if (said !== null) return { state: 'short', at: said, note };
  if (withdrawn) return { state: 'withdrawn', at: withdrawn.at, note: 'it was heard otherwise in the end' };
  return { state: 'open', at: null, note };
}

/** The rows that have something to tell, the latest said first. */
export const latestOf = (rows: readonly Row[], most: number): Row[] =>
  rows
    .flatMap((row) => (row.at === null ? [] : [{ row, at: row.at }]))
    .sort((a, b) => b.at - a.at)
    .slice(0, most)
    .map(({ row }) => row);

/** What is still to be said, in order. */
export const openOf = (rows: readonly Row[]): Row[] =>
  rows.filter(({ state }) => state === 'open' || state === 'short' || state === 'withdrawn');

/**
 * The end of what was heard, in whole words: what does not fit on the line is the oldest.
 *
 * @param most characters
 */
export function lastWords(text: string, most: number): string {
  if (text.length <= most) return text;
  const end = text.slice(-most);
  return `…${end.slice(end.indexOf(' ') + 1)}`;
}

/** Whether the coach is reading the card aloud, which is on the screen anyway. */
export const isReadingCard = ({ skill }: Checklist, caption: string): boolean =>
  caption !== '' && caption === skill.card.replace(/\s+/g, ' ').trim();

/** The one clock that matters now. */
type TimedState = 'running' | 'reached' | 'halted' | 'doubtful';

export type Dial =
  | {
      readonly kind: 'timed';
      readonly step: string;
      readonly label: string;
      /** Whole seconds that have passed for certain. */
      readonly seconds: number;
      readonly of: number;
      /** Of the time needed, 0–1. */
      readonly share: number;
      /** `halted`: it waits to go on. `doubtful`: something was said that may have stopped it. */
      readonly state: TimedState;
    }
  | {
      readonly kind: 'counted';
      readonly step: string;
      readonly label: string;
      readonly counted: number;
      readonly of: number;
      readonly share: number;
    }
  | {
      readonly kind: 'test';
      readonly label: string;
      /** Seconds since the rehearsal began, pauses left out. */
      readonly seconds: number;
      /** The limit, null where there is none. */
      readonly of: number | null;
      readonly share: number;
    };

function clockState(clock: Clock, isReached: boolean): TimedState {
  if (!clock.running) return 'halted';
  if (clock.doubtedFrom !== null) return 'doubtful';
  return isReached ? 'reached' : 'running';
}

/**
 * The clock that matters now: a running one, else one that waits to go on, else a count under way, else the test's.
 *
 * @param now seconds of the recording
 */
export const dialOf = (checklist: Checklist, state: State, now: number): Dial =>
  timedOf(checklist, afterPause(state), now) ?? countedOf(checklist, state) ?? testOf(checklist, state, now);

function timedOf({ steps }: Checklist, { clocks }: State, now: number): Dial | null {
  const timed = steps.flatMap(({ id, text, evidence }) => {
    const clock = clocks[id] ?? NEW_CLOCK;
    return evidence.kind === 'timed' && clock.run ? [{ id, text, clock, of: evidence.atLeast }] : [];
  });
  const going = timed.find(({ clock }) => clock.running) ?? timed[0];
  if (!going) return null;
  const { id, text, clock, of } = going;
  // The stop to come is as uncertain as the start was: the ring is full only when stopping now would do.
  const certain = Math.max(0, (secondsSoFar(clock, now) ?? 0) - (clock.running?.uncertainty ?? 0));
  return {
    kind: 'timed',
    step: id,
    label: text,
    seconds: Math.floor(certain),
    of,
    share: Math.min(1, certain / of),
    state: clockState(clock, certain >= of),
  };
}

function countedOf({ steps }: Checklist, { counts }: State): Dial | null {
  const beingMoved = beingCounted(counts);
  const counting = steps.flatMap(({ id, text, evidence }) => {
    if (evidence.kind !== 'counted' || !beingMoved.includes(id)) return [];
    const { sure } = repetitions(counts.movements[id]);
    return sure < evidence.atLeast ? [{ id, text, sure, of: evidence.atLeast }] : [];
  });
  const least = counting.sort((a, b) => a.sure - b.sure)[0];
  if (!least) return null;
  const { id, text, sure, of } = least;
  return { kind: 'counted', step: id, label: text, counted: sure, of, share: sure / of };
}

/** The test's own clock. */
export function testOf({ rules }: Checklist, state: State, now: number): Dial & { readonly kind: 'test' } {
  const passed = elapsed(state, now);
  const left = timeLeft(rules, state, now);
  const limit = left === null ? null : passed + left;
  return {
    kind: 'test',
    label: 'Time since you began',
    seconds: Math.floor(passed),
    of: limit,
    share: limit === null ? 0 : Math.min(1, passed / limit),
  };
}
