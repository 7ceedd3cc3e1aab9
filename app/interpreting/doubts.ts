import { CREDIT_FROM, isWhole, PLAIN_FROM, type Claim } from '../matching/claim.ts';
import type { Doubt } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { roleOf, stepTextOf, twinsOf } from '../skills/checklist.ts';
import { tokenAt } from '../language/words.ts';
import type { Step } from '../skills/skill.ts';
import { wordAt, type Hearing } from './hearing.ts';
import { agrees, lacksDenial, objects, surenessAt } from './meaning.ts';
import type { SecondHearing } from './secondHearing.ts';
import { isInPlace, type Situation } from './situation.ts';

/** Why a claim is asked about and not credited. */

/**
 * Below this confidence an utterance's words are asked about, not credited. On the dev half of the corpus clean speech
 * stays above 0.6; lower thresholds let misrecognised babble credit steps.
 */
export const CLEAR_FROM = 0.4;

/**
 * And below this one a word: "but weave my fingers" was "between my fingers", of which it had been said that they were not
 * done. On 21 dev narrations (joe, clean and beside a tap at 10 dB) ten right credits and no false one have less than 0.1, on
 * speech that has nothing to do with the skills one false one less than 0.05.
 */
const WORD_FROM = 0.05;
/** The same for a critical step. Words misheard beside a loud tap seldom have as much, right ones in clear speech mostly. */
const CRITICAL_WORD_FROM = 0.2;

/**
 * Why the rules and the learned judge together only doubt a claim; null where it is to be believed.
 *
 * @param hasNumber whether the words carry the number that the step asks for
 */
export function doubtOf(
  { checklist, hearing, correcting }: Situation,
  now: State,
  second: SecondHearing | null,
  claim: Claim,
  hasNumber: boolean,
): Doubt | null {
  const { step } = roleOf(checklist, claim.target);
  const doubt = ruleDoubtOf(step, claim, hearing, second, isInPlace(checklist, now, step));
  // The judge reads what a step says, not a clock's start, a repetition or a number.
  const { kind } = step.evidence;
  const isRead = claim.target === step.id && (kind === 'said' || (kind === 'reading' && !hasNumber));
  const sure = isRead ? surestOf(hearing, twinsOf(checklist, step), claim) : null;
  // "I forgot the curtain" puts it right where a slip is being put right, which the judge cannot know.
  if (doubt === null) return !correcting && objects(step, sure) ? 'meaning' : null;
  // Nor does it see that a denial is missing.
  const lacks = step.critical && lacksDenial(hearing, claim, stepTextOf(checklist, step));
  return agrees(step, sure) && !lacks ? null : doubt;
}

/** How sure the judge is, 0–1, that one of some steps is said where a claim stands; null where none was at work. */
function surestOf(hearing: Hearing, steps: readonly Step[], claim: Claim): number | null {
  const sures = steps.map(({ id }) => surenessAt(hearing, id, claim)).filter((sure) => sure !== null);
  return sures.length > 0 ? Math.max(...sures) : null;
}

/** Why the rules only doubt a claim; null where they believe it. */
function ruleDoubtOf(
  step: Step,
  claim: Claim,
  hearing: Hearing,
  second: SecondHearing | null,
  inPlace: boolean,
): Doubt | null {
  const support = second?.support(claim);
  const other = support === 'agreed' ? second?.claims.find((c) => c.target === claim.target) : undefined;
  if (Math.max(claim.score, other?.score ?? 0) < CREDIT_FROM) return 'faint';
  if (other && (isWhole(claim) || isWhole(other))) return null;
  if (isUnclear(step, claim, hearing)) return 'unclear';
  if (!claim.plain || claim.plainScore < plainFrom(step, claim, inPlace)) return 'sounds';
  return support === 'against' || (step.critical && support === 'none') ? 'one' : null;
}

/** Share of a claim's cue that must be in its own words. */
function plainFrom({ critical }: Step, { across }: Claim, inPlace: boolean): number {
  if (critical) return CREDIT_FROM;
  if (inPlace) return 0;
  return across ? CREDIT_FROM : PLAIN_FROM;
}

const isUnclear = ({ critical }: Step, claim: Claim, hearing: Hearing): boolean =>
  hearing.utterance.confidence < CLEAR_FROM ||
  leastSure(hearing, claim) < (critical ? CRITICAL_WORD_FROM : WORD_FROM);

/** How sure the recogniser is of the least sure word of content of a claim, 0–1; of those of this utterance. */
function leastSure({ utterance, tokens, carried }: Hearing, claim: Claim): number {
  const own = claim.tokens.filter((t) => t >= carried);
  return Math.min(1, ...own.map((t) => wordAt(utterance, tokenAt(tokens, t).at).confidence ?? 1));
}
