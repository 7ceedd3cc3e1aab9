import type { Checklist } from '../skills/checklist.ts';
import { tell } from './attend.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { utteranceOf, type Partial, type Utterance } from '../language/utterance.ts';

/**
 * Seconds by which the last partial result may reach past the end of the final one: it is taken while the silence that
 * ends the speech is still going on, 0.4 s of it (the speech detector's), and ends are set up to 0.14 s early.
 */
const PAST_THE_END = 0.6;

/**
 * How sure the learned judge must be of half a sentence. Of the first lines of 22 dev narrations, each cut off after .35, .6 and .85 of its words, the
 * tentative credits so given were 501 that the whole line gives as well and 11 that it does not; by the rules alone 261 and 14, from .5 549 and 24,
 * from .99 448 and 4.
 */
const SURE_IN_PART = 0.9;

/**
 * The tentative credits that a partial result gives: the steps its words would credit if they were final. Clocks,
 * counts and readings wait for the final result, since a tick that is taken back does no harm and a time that is does.
 * Pure; a step already credited, finally or tentatively, is not credited again.
 */
export function provisional(checklist: Checklist, state: State, partial: Partial): RehearsalEvent[] {
  // A partial result comes without a confidence. It is only ever a promise; the final one decides with its own.
  const judged = partial.judged?.map(({ sure, ...stretch }) => ({
    ...stretch,
    sure: Object.fromEntries(Object.entries(sure).filter(([, share]) => share >= SURE_IN_PART)),
  }));
  const utterance = utteranceOf({ ...partial, id: (state.utterances.at(-1)?.id ?? -1) + 1 });
  const said = tell(checklist, state, { ...utterance, ...(judged && { judged }) });
  if (said.kind !== 'narration' || said.coach !== null) return [];
  return said.events.flatMap((event): RehearsalEvent[] => {
    if (event.type !== 'credited' || event.step in state.credits || event.step in state.tentative) return [];
    const step = checklist.steps.find(({ id }) => id === event.step);
    if (step?.evidence.kind !== 'said') return [];
    return [{ type: 'tentative', step: step.id, text: event.evidence.text, at: partial.end }];
  });
}

/**
 * Takes back the tentative credits that what is now settled has not borne out.
 *
 * @param until seconds up to which all speech is settled
 */
export function settleTentative({ tentative }: State, until: number): RehearsalEvent[] {
  return Object.entries(tentative)
    .filter(([, { at }]) => at <= until + PAST_THE_END)
    .map(([step, { text, at }]) => ({ type: 'withdrawn', step, text, at }));
}

/**
 * An utterance this long, in seconds, may have been cut while the speech went on: the speech detector cuts 10 to 15 s
 * after the onset. A saying is rarely longer than {@link SAYING}; one that the cut has halved waits for its other half.
 */
const MAY_BE_CUT = 10;
const SAYING = 3;

/** Seconds up to which an utterance settles the speech. */
export const settledUntil = ({ start, end }: Utterance): number =>
  end - start >= MAY_BE_CUT ? end - SAYING : end;

/** Seconds up to which new speech settles what was said before, where its final result never came: no words were found. */
export const settledBy = ({ start }: Partial): number => start - 1;
