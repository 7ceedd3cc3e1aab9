import { isAtHand } from './atBench/atBench.ts';
import type { StepMark } from '../marking/assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { State, Stretch } from '../marking/state.ts';
import type { Utterance } from '../language/utterance.ts';

/** The habit of saying each step aloud: how much of the time was narrated, and where it fell silent. */

export interface Silence extends Stretch {
  /** Id of the step last credited before it; null at the beginning. */
  readonly after: string | null;
}

export interface Talk {
  /** Seconds narrated, and seconds in which there was something to narrate. */
  readonly narrated: number;
  readonly of: number;
  /** The silences of {@link LONG_SILENCE} and more, the longest first. */
  readonly silences: readonly Silence[];
}

/**
 * Seconds of silence that are long. Common practice, no source: the slowest step without a clock, drying both hands, takes
 * about ten, and a trainee who says it at its beginning has nothing to add.
 */
export const LONG_SILENCE = 12;

/** Seconds from which on what is timed needs the trainee's silence: breaths are counted in the head. */
const NEEDS_SILENCE = 60;

/** Steps that must have been heard for their manner to be a habit, and the share of them that makes it one. */
const HABIT_OF = 6;
const HABIT_FROM = 0.5;

/**
 * The manner of most of the steps heard, where that is announcing or telling: a matter of style, not a fault. Null where most
 * were said as done.
 */
export function habitOf(marks: readonly StepMark[]): 'begun' | 'told' | null {
  const said = marks.flatMap(({ outcome, manner }) =>
    outcome === 'heard' && manner !== null && manner !== 'carried over' ? [manner] : [],
  );
  const share = (wanted: 'begun' | 'told'): number => said.filter((m) => m === wanted).length / said.length;
  if (said.length < HABIT_OF || share('begun') + share('told') <= HABIT_FROM) return null;
  return share('begun') >= share('told') ? 'begun' : 'told';
}

/** What the end screen says of a habit. */
export const HABITS: Readonly<Record<'begun' | 'told', string>> = {
  begun:
    'You said most steps as you began them (“I’m going to…”). That is a matter of style, not a fault; saying what your hands do (“I’m wetting…”) is understood everywhere.',
  told: 'You told most steps as what you would do (“here I would…”). That is a matter of style, not a fault; where the thing is at hand, do it and say so.',
};

/** How the trainee has talked up to `now`, in seconds of the recording. */
export function talkOf(checklist: Checklist, state: State, now: number): Talk {
  const whole = { from: state.begun, to: Math.min(now, state.ended ?? now) };
  const within = (stretches: readonly Stretch[]): Stretch[] => merge(stretches, whole);
  const narrated = within(state.utterances.map(spanOf));
  const asides = state.asides.map(({ utterance }) => spanOf(utterance));
  const covered = within([...narrated, ...asides, ...state.spoken, ...excused(checklist, state, now)]);
  const total = Math.max(0, whole.to - whole.from);
  const spent = seconds(narrated);
  return {
    narrated: spent,
    of: total - (seconds(covered) - spent),
    silences: gaps(covered, whole)
      .filter(({ from, to }) => to - from >= LONG_SILENCE)
      .map((gap) => ({ ...gap, after: stepBefore(state, gap.from) }))
      .sort((a, b) => b.to - b.from - (a.to - a.from)),
  };
}

/**
 * The share of the time narrated so far, 0–1. Null where it would say nothing or distract: before there has been something
 * to say for {@link LONG_SILENCE}, and while a full minute is being counted.
 */
export function shareNarrated(checklist: Checklist, state: State, now: number): number | null {
  const counting = checklist.steps.some(
    ({ id, evidence }) =>
      evidence.kind === 'timed' && evidence.atLeast >= NEEDS_SILENCE && state.clocks[id]?.running,
  );
  if (counting) return null;
  const { narrated, of } = talkOf(checklist, state, now);
  return of < LONG_SILENCE ? null : narrated / of;
}

/**
 * Whether a gentle word is due: nobody has said anything for {@link LONG_SILENCE}, twice as long if the coach spoke last,
 * and so on, so that it does not nag. Never in a pause, while a full minute is being counted, or beside a simulated resident, where one
 * must look and listen.
 */
export function nudgeDue(checklist: Checklist, state: State, now: number): boolean {
  if (state.paused !== null || state.ended !== null || isAtHand(checklist, state)) return false;
  const whole = { from: state.begun, to: now };
  const heard = [
    ...state.utterances,
    ...state.asides.filter((a) => a.why !== 'echo').map((a) => a.utterance),
  ];
  const lastHeard = Math.max(state.begun, ...heard.map((u) => u.end));
  const unanswered = state.spoken.filter((s) => s.from >= lastHeard).length;
  const voices = [...heard.map(spanOf), ...state.spoken, ...excused(checklist, state, now)];
  const last = gaps(merge(voices, whole), whole).at(-1);
  return last?.to === now && now - last.from >= LONG_SILENCE * (1 + unanswered);
}

/** The stretches in which a trainee may be silent: pauses, and what is timed until it has had its time. */
function excused({ steps }: Checklist, { timings, pauses, paused }: State, now: number): Stretch[] {
  const timed = timings.flatMap(({ step, from, to }): Stretch[] => {
    const evidence = steps.find((s) => s.id === step)?.evidence;
    if (evidence?.kind !== 'timed') return [];
    const end = to ?? now;
    return [{ from, to: evidence.atLeast >= NEEDS_SILENCE ? end : Math.min(end, from + evidence.atLeast) }];
  });
  return [...timed, ...pauses, ...(paused === null ? [] : [{ from: paused, to: now }])];
}

/** The step credited last before a moment. A saying may end a little after the silence has begun: times are uncertain. */
function stepBefore({ credits }: State, moment: number): string | null {
  const said = Object.entries(credits).flatMap(([step, all]) => all.map(({ start }) => ({ step, start })));
  const before = said.filter(({ start }) => start <= moment).sort((a, b) => a.start - b.start);
  return before.at(-1)?.step ?? null;
}

const spanOf = ({ start, end }: Utterance): Stretch => ({ from: start, to: end });

/** The part of the stretches that lies within the whole, overlaps joined, in order. */
function merge(stretches: readonly Stretch[], whole: Stretch): Stretch[] {
  const merged: Stretch[] = [];
  for (const { from, to } of [...stretches].sort((a, b) => a.from - b.from)) {
    const part = { from: Math.max(from, whole.from), to: Math.min(to, whole.to) };
    if (part.to <= part.from) continue;
    const last = merged.at(-1);
    if (last && part.from <= last.to)
      merged[merged.length - 1] = { from: last.from, to: Math.max(last.to, part.to) };
    else merged.push(part);
  }
  return merged;
}

/** What lies between merged stretches, and before and after them. */
function gaps(merged: readonly Stretch[], whole: Stretch): Stretch[] {
  const edges = [...merged, { from: whole.to, to: whole.to }];
  return edges
    .map(({ from }, i) => ({ from: edges[i - 1]?.to ?? whole.from, to: from }))
    .filter(({ from, to }) => to > from);
}

const seconds = (stretches: readonly Stretch[]): number =>
  stretches.reduce((sum, s) => sum + s.to - s.from, 0);
