import type { Utterance } from '../language/utterance.ts';
import { admits, corrects } from '../language/correction.ts';
import type { Outcome } from '../marking/assessment.ts';
import { outcomesOf } from '../marking/result.ts';
import type { State } from '../marking/state.ts';
import { roleOf, type Checklist } from '../skills/checklist.ts';
import type { Step } from '../skills/skill.ts';
import { hear, type Hearing } from './hearing.ts';

/** How each step stands, by its id. */
export type Outcomes = ReadonlyMap<string, Outcome>;

/** What an utterance is interpreted in: the checklist, how the rehearsal stands, and what was heard. */
export interface Situation {
  readonly checklist: Checklist;
  /** As the utterance finds it. */
  readonly before: State;
  readonly hearing: Hearing;
  /** Whether a correction has been asked for, or the words say that they are one. */
  readonly correcting: boolean;
  /** How the steps stand, where the words put a slip right or own up to one; null elsewhere. */
  readonly slips: Outcomes | null;
}

export function situationOf(checklist: Checklist, before: State, utterance: Utterance): Situation {
  const isAsked = before.correcting !== null;
  const hearing = hear(utterance, before.utterances.at(-1), isAsked);
  const own = hearing.tokens.slice(hearing.carried);
  const correcting = isAsked || corrects(own);
  const slips = correcting || admits(own) ? outcomesOf(checklist, before) : null;
  return { checklist, before, hearing, correcting, slips };
}

/**
 * Places in the list at which a step that has been said speaks for another: with one of those said, one word of a saying's
 * own is enough, and the others may sound like it. Without, it needs {@link PLAIN_FROM}, and over two sentences as much as
 * a critical step.
 */
const NEIGHBOURS = 2;

/** Whether a step that stands near another in the list has been said. */
export function isInPlace({ steps }: Checklist, { credits }: State, step: Step): boolean {
  const at = steps.indexOf(step);
  return steps
    .slice(Math.max(0, at - NEIGHBOURS), at + NEIGHBOURS + 1)
    .some(({ id }) => id !== step.id && id in credits);
}

/** Whether a step has been left behind: one that comes later in the list has been said. */
export const isPassedOver = (checklist: Checklist, state: State, id: string): boolean =>
  id in state.credits || stepsPast(checklist, state, id) > 0;

/** How many steps that come later in the list have been said. */
const stepsPast = ({ steps }: Checklist, { credits }: State, id: string): number =>
  steps.slice(1 + steps.findIndex((step) => step.id === id)).filter((step) => step.id in credits).length;

/**
 * Steps said from which on one before them has been left behind: of two that are said alike ("I wash my hands") the later one is
 * then meant. On the dev narrations fewer take steps said a little late for their twins.
 */
const LEFT_BEHIND = 5;

/** Ranks of a step: one to be put right, one that comes late, one that comes before what it must follow, one that was said before. */
const SLIP = -1;
const LATE = 1;
export const EARLY = 2;
export const SAID_BEFORE = 3;
/** What a place in the list adds to a rank: less than 1 in all, for lists of up to so many steps. */
const MOST_STEPS = 1000;

/**
 * Lower is likelier: in a correction what has to be put right; a step still open and in order, then one that comes late,
 * early, or a second time.
 */
export function rankSteps(
  checklist: Checklist,
  state: State,
  slips: Outcomes | null,
): (target: string) => number {
  const { constraints, steps } = checklist;
  const isCredited = (id: string): boolean => (state.credits[id]?.length ?? 0) > 0;
  // The whole rehearsal is marked for it: only once, and only where a step is said again.
  let outcomes = slips;
  const isOutOfOrder = (id: string): boolean =>
    (outcomes ??= outcomesOf(checklist, state)).get(id) === 'out of order';
  return (target) => {
    const { role, step } = roleOf(checklist, target);
    const { id } = step;
    const place = steps.indexOf(step) / MOST_STEPS;
    if (slips && slips.get(id) !== 'heard') return SLIP + place;
    // Hands that were clean at the start are washed again at the end.
    if (id in state.carried && isPassedOver(checklist, state, id)) return SAID_BEFORE + place;
    const isEarly = constraints.some((c) => c.later === id && !isCredited(c.earlier));
    // One that came too early may be put right now.
    if (isCredited(id) && role === 'step' && (isEarly || !isOutOfOrder(id))) return SAID_BEFORE + place;
    // Said too late is a slip made good; said before what it must follow, it is likelier to be another step.
    if (isEarly) return EARLY + place;
    const isLate =
      constraints.some((c) => c.earlier === id && isCredited(c.later)) ||
      (!isCredited(id) && stepsPast(checklist, state, id) >= LEFT_BEHIND);
    return isLate ? LATE - place : place;
  };
}
