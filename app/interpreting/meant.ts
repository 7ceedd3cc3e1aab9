import type { Claim } from '../matching/claim.ts';
import { CREDIT_FROM } from '../matching/claim.ts';
import { mannerOf } from '../language/stance.ts';
import type { SaidCount } from '../marking/counts.ts';
import type { Doubt, RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { twinsOf } from '../skills/checklist.ts';
import { takenAs } from '../skills/manner.ts';
import { creditOf } from './claimed.ts';
import { clockMoves } from './clockMoves.ts';
import { evidenceOf, overlaps } from './hearing.ts';
import type { Meant } from './meaning.ts';
import { isReadBack, readNumber } from './reading/readings.ts';
import { movementOf } from './repetition.ts';
import { EARLY, rankSteps, SAID_BEFORE, type Situation } from './situation.ts';

/** What the learned judge says was said where the rules found nothing of the step. */

/** What the judge alone says, and where it belongs among what was said. */
export interface Placed {
  readonly meant: Meant & { readonly manner: NonNullable<Meant['manner']> };
  /** Whether the sentence says another step about as surely, and a likelier one as things stood before it. */
  readonly isRivalled: boolean;
  /** The token it comes before, as a fraction. */
  readonly at: number;
}

/** How much less sure the judge may be of a step, for it to be a rival of another in the same sentence. */
const RIVAL = 0.05;

/** Just before a token. */
const before = (token: number): number => token - 0.25;

export const isMovement = ({ step }: Meant): boolean => step.evidence.kind === 'counted';

/** What the judge says beside the claims that stand: not what only belongs to an explanation. */
export function meantBeside(
  situation: Situation,
  all: readonly Meant[],
  standing: readonly Claim[],
  counts: readonly SaidCount[],
  rank: (target: string) => number,
): Placed[] {
  return all.flatMap((meant) => {
    const { manner } = meant;
    const others = all.filter((m) => m !== meant && m.span.from === meant.span.from);
    if (manner === null || (manner === 'begun' && others.some((other) => explains(situation, other))))
      return [];
    const at = isMovement(meant)
      ? placeOfMovement(situation, meant, standing, counts)
      : placeOfStep(situation, meant, standing);
    if (at === null) return [];
    const isRivalled = !isMovement(meant) && hasRival(situation, meant, others, rank);
    return [{ meant: { ...meant, manner }, isRivalled, at }];
  });
}

const explains = ({ before: { credits } }: Situation, { step, weight }: Meant): boolean =>
  step.plans && weight === 'alone' && !(step.id in credits);

/** Before the numbers of its sentence, which are for it; null where the rules have found its name, or an "again" for it. */
function placeOfMovement(
  { checklist }: Situation,
  { step, span }: Meant,
  standing: readonly Claim[],
  counts: readonly SaidCount[],
): number | null {
  const isNamed = standing.some((c) => overlaps(c, span) && movementOf(checklist, c) === step.id);
  const isAgain = counts.some(({ count, at }) => count === 'again' && at >= span.from && at < span.to);
  return isNamed || isAgain ? null : before(span.from);
}

/** Before the first claim of a later step in its sentence, else at its end; null where the rules have found the step. */
function placeOfStep(
  { checklist: { steps } }: Situation,
  { step, span }: Meant,
  standing: readonly Claim[],
): number | null {
  const beside = standing.filter((c) => overlaps(c, span));
  const isFound = beside.some(
    (c) => c.target === step.id && mannerOf(c.stance) !== null && c.score >= CREDIT_FROM,
  );
  if (isFound) return null;
  const order = (id: string): number => steps.findIndex((each) => each.id === id);
  const later = beside.find((c) => order(c.target) > order(step.id));
  return before(later ? later.from : span.to);
}

function hasRival(
  { checklist }: Situation,
  { step, sure }: Meant,
  others: readonly Meant[],
  rank: (target: string) => number,
): boolean {
  const twins = twinsOf(checklist, step);
  return others.some(
    (m) => twins.includes(m.step) && m.sure > sure - RIVAL && rank(m.step.id) < rank(step.id),
  );
}

/** What it leads to. A step said before, or an early one with a rival, is not said again by the judge's word alone. */
export function takeMeant(situation: Situation, now: State, { meant, isRivalled }: Placed): RehearsalEvent[] {
  const { checklist, hearing, slips } = situation;
  const { step, sure, span } = meant;
  if (!isMovement(meant)) {
    const rank = rankSteps(checklist, now, slips)(step.id);
    if (rank >= (isRivalled ? EARLY : SAID_BEFORE)) return [];
  }
  const manner = meant.manner === 'doubted' ? 'done' : meant.manner;
  const taken = takenAs(checklist.rules, step, manner);
  if (taken === 'no') return [];
  const evidence = evidenceOf(hearing, span, sure);
  const asked = taken === 'asks' && manner !== 'done' ? manner : null;
  const isUnsure = meant.weight === 'possible' || meant.manner === 'doubted';
  const doubt: Doubt | null = isUnsure ? 'meaning' : asked;
  if (step.evidence.kind === 'counted') {
    const form = manner === 'done' ? 'full' : 'announced';
    return doubt ? [] : [{ type: 'movement', step: step.id, joint: step.evidence.joint, form, evidence }];
  }
  const role = { role: 'step', step } as const;
  const said = { span, role, announced: manner === 'begun', doubt, evidence };
  // It ends times and starts none.
  const moves = clockMoves(checklist, now, hearing, said, []).filter(
    ({ move }) => move !== 'start' && move !== 'on',
  );
  const saying = {
    before: now.readings[step.id],
    corrects: situation.correcting || isReadBack(now.readBack, hearing.utterance, step.id),
    asksOfAny: false,
  };
  const reading = doubt ? null : readNumber(step, hearing, span, evidence, saying);
  if (step.evidence.kind === 'reading' && !reading) return moves;
  if (doubt) return [...moves, { type: 'doubted', step: step.id, evidence, why: doubt }];
  return [...moves, ...creditOf(checklist, step.id, manner, evidence), ...(reading ? [reading] : [])];
}
