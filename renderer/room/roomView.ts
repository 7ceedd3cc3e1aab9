import type { Checklist } from '../../app/skills/checklist.ts';
import { NEW_CLOCK, secondsSoFar, type Clock } from '../../app/marking/clocks.ts';
import { beingCounted, repetitions } from '../../app/marking/counts.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import type { State } from '../../app/marking/state.ts';
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

/**
 * Every step as it stands now, in the order of the checklist.
 *
 * @param only ids of the steps that are rehearsed; null for all of them
 */
export function rowsOf(checklist: Checklist, state: State, only: ReadonlySet<string> | null): Row[] {
  const { steps } = markRehearsal(checklist, state);
  return steps
    .filter((mark) => only === null || only.has(mark.id))
    .map(({ id, text, critical, outcome, note, at }): Row => {
      const tentative = state.tentative[id];
      const withdrawn = state.withdrawn.findLast((each) => each.step === id);
      const row = (shown: RowState, when: number | null, why = note): Row => ({
        id,
        text,
        critical,
        state: shown,
        note: why,
        at: when,
      });
      const said = state.credits[id]?.at(-1)?.start ?? at;
      if (outcome === 'needs eyes') return row('needs eyes', null);
      if (state.clocks[id]?.running) return row('running', said, '');
      if (outcome === 'heard' || outcome === 'out of order') return row(outcome, said);
      if (tentative) return row('tentative', tentative.at, '');
      if (outcome === 'unsure') return row('unsure', said);
      if (said !== null) return row('short', said);
      if (withdrawn) return row('withdrawn', withdrawn.at, 'it was heard otherwise in the end');
      return row('open', null);
    });
}

/** The rows that have something to tell, the latest said first. */
export const latestOf = (rows: readonly Row[], most: number): Row[] =>
  rows
    .filter((row) => row.at !== null)
    .sort((a, b) => b.at! - a.at!)
    .slice(0, most);

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

function standingOf(clock: Clock, isReached: boolean): TimedState {
  if (!clock.running) return 'halted';
  if (clock.doubtedFrom !== null) return 'doubtful';
  return isReached ? 'reached' : 'running';
}

/**
 * The clock that matters now: a running one, else one that waits to go on, else a count under way, else the test's.
 *
 * @param now seconds of the recording
 */
export function dialOf(checklist: Checklist, state: State, now: number): Dial {
  const timed = checklist.steps.flatMap((step) => {
    if (step.evidence.kind !== 'timed') return [];
    const clock = state.clocks[step.id] ?? NEW_CLOCK;
    return clock.run ? [{ step, clock, of: step.evidence.atLeast }] : [];
  });
  const going = timed.find(({ clock }) => clock.running) ?? timed[0];
  if (going) {
    const { step, clock, of } = going;
    // The stop to come is as uncertain as the start was: the ring is full only when stopping now would do.
    const certain = Math.max(0, (secondsSoFar(clock, now) ?? 0) - (clock.running?.uncertainty ?? 0));
    return {
      kind: 'timed',
      step: step.id,
      label: step.text,
      seconds: Math.floor(certain),
      of,
      share: Math.min(1, certain / of),
      state: standingOf(clock, certain >= of),
    };
  }

  const beingMoved = beingCounted(state.counts);
  const counting = checklist.steps.flatMap((step) => {
    if (step.evidence.kind !== 'counted' || !beingMoved.includes(step.id)) return [];
    const { sure } = repetitions(state.counts.movements[step.id]);
    return sure < step.evidence.atLeast ? [{ step, sure, of: step.evidence.atLeast }] : [];
  });
  const least = counting.sort((a, b) => a.sure - b.sure)[0];
  if (least) {
    const { step, sure, of } = least;
    return { kind: 'counted', step: step.id, label: step.text, counted: sure, of, share: sure / of };
  }
  return testOf(checklist, state, now);
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
