import { askOfStep, type Ask } from '../../bench/resident/asks.ts';
import { asksIn } from '../../bench/resident/sayings.ts';
import { findNumbers } from '../../language/numbers.ts';
import { piecesOf } from '../../language/words.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import type { State } from '../../marking/state.ts';
import type { Checklist } from '../../skills/checklist.ts';

/** The simulated resident in a rehearsal: when they are there to be measured, and what is asked of the instruments. */

/** When a step was last said, in seconds; −Infinity where it was not. */
const lastSaid = ({ credits, timings }: State, id: string): number =>
  Math.max(
    -Infinity,
    ...(credits[id] ?? []).map(({ start }) => start),
    ...timings.filter(({ step }) => step === id).map(({ from, to }) => to ?? from),
  );

/**
 * Whether the simulated resident is there to be measured: from the step before the first that has to do with them, until a step that comes
 * after all of these is said. Who goes back to one of them is there again.
 */
export function isAtHand({ steps }: Checklist, state: State): boolean {
  if (!state.bench || state.ended !== null) return false;
  const own = steps.flatMap(({ bench }, i) => (bench === undefined ? [] : [i]));
  const [first, last] = [own[0], own.at(-1)];
  if (first === undefined || last === undefined) return false;
  if (own.some((i) => state.clocks[steps[i]?.id ?? '']?.running)) return true;
  const saidIn = (some: readonly { readonly id: string }[]): number =>
    Math.max(-Infinity, ...some.map(({ id }) => lastSaid(state, id)));
  const handled = state.bench.handled.at(-1)?.at ?? -Infinity;
  const here = Math.max(handled, saidIn(own.flatMap((i) => steps[i] ?? [])));
  const due = Math.max(here, saidIn(steps.slice(Math.max(0, first - 1), first)));
  return first === 0 || (due > -Infinity && due >= saidIn(steps.slice(last + 1)));
}

/** What an utterance asks of the instruments, all of it: nothing unless they are there. */
export const askedIn = (checklist: Checklist, state: State, text: string): readonly Ask[] =>
  state.bench && isAtHand(checklist, state) ? asksIn(state.bench.resident.measure, text) : [];

/** What events ask of the instruments: what was said to them, and what the steps do that were credited. What is only told is not done. */
export function asksOf(
  checklist: Checklist,
  state: State,
  events: readonly RehearsalEvent[],
): readonly Ask[] {
  const { bench } = state;
  if (!bench) return [];
  return events.flatMap((event): readonly Ask[] => {
    if (event.type === 'aside')
      return event.why === 'bench' ? asksIn(bench.resident.measure, event.utterance.text) : [];
    if (event.type !== 'credited' || event.manner === 'told') return [];
    const does = checklist.steps.find(({ id }) => id === event.step)?.bench;
    const [number] = findNumbers(piecesOf(event.evidence.text));
    const ask = does ? askOfStep(does, number?.value ?? null) : null;
    return ask ? [ask] : [];
  });
}
