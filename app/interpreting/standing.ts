import { mannerOf } from '../language/stance.ts';
import { CREDIT_FROM, isWhole, sharesWords, strength, type Claim } from '../matching/claim.ts';
import { settle } from '../matching/settle.ts';
import { roleOf, stepTextOf, type Checklist } from '../skills/checklist.ts';
import { takenAs } from '../skills/manner.ts';
import type { Taken } from '../skills/skill.ts';
import { goesAgainst } from '../language/direction.ts';
import { sentenceAt, overlaps, type Hearing } from './hearing.ts';
import { jointsAt, withoutEchoes, withoutStrayShorts } from './repetition.ts';
import type { Situation } from './situation.ts';

/** Which of the claims on an utterance's words stand, and which are only noted. */

/** The claims of an utterance, sorted. */
export interface Claims {
  /** All that may be meant. */
  readonly live: readonly Claim[];
  /** Those that say a step, settled among themselves. */
  readonly standing: readonly Claim[];
  /** Those that speak of a step in a way that does not count. */
  readonly against: readonly Claim[];
  /** Of these the ones whose words nothing that stands has taken. */
  readonly notes: readonly Claim[];
  /** The joints that short sayings and numbers can be about. */
  readonly joints: ReadonlySet<string>;
}

/** Finds what an utterance claims and settles what of it stands. */
export function claimsIn(situation: Situation, rank: (target: string) => number): Claims {
  const { checklist, before, hearing } = situation;
  const { tokens, clauses, markers, carried } = hearing;
  const spent = new Set(carried > 0 ? before.used : []);
  const found = checklist.matcher.find(tokens, clauses, markers, carried, spent);
  const joints = jointsAt(checklist, before, found);
  const live = withoutStrayShorts(checklist, hearing, joints, found).filter(
    (claim) => !isOtherWay(checklist, hearing, claim),
  );
  const against = live.filter((claim) => takenOf(checklist, claim) === 'no');
  const standing = standingOf(situation, live, against, rank);
  const taken = new Set(standing.flatMap((claim) => claim.tokens));
  const notes = settle(against, rank).filter(
    (claim) => claim.tokens.filter((t) => taken.has(t)).length * 2 <= claim.tokens.length,
  );
  return { live, standing, against, notes, joints };
}

/** The claims that say a step, without those that others explain away. */
function standingOf(
  situation: Situation,
  live: readonly Claim[],
  against: readonly Claim[],
  rank: (target: string) => number,
): Claim[] {
  const { checklist, hearing } = situation;
  const asserted = live.filter((claim) => takenOf(checklist, claim) !== 'no' && !isDenied(claim, against));
  const stops = asserted.filter(isWhole);
  const settled = settle(
    asserted.filter((c) => isWhole(c) || !stops.some((stop) => undoes(checklist, stop, c))),
    rank,
  );
  const clear = settled.filter((c) => !isEcho(situation, settled, c) && !isExplained(situation, settled, c));
  const running = clear.filter((c) => !clear.some((stop) => undoes(checklist, stop, c)));
  return withoutEchoes(checklist, hearing, running);
}

/** How the rules take a claim in the manner it is said; what says no step does not count. */
export function takenOf(checklist: Checklist, { target, stance }: Claim): Taken {
  const manner = mannerOf(stance);
  return manner === null ? 'no' : takenAs(checklist.rules, roleOf(checklist, target).step, manner);
}

/** Whether the sentence of a claim goes the other way than its step: "I wipe from back to front". */
function isOtherWay(checklist: Checklist, hearing: Hearing, { target, to }: Claim): boolean {
  const { role, step } = roleOf(checklist, target);
  if (role !== 'step') return false;
  const sentence = sentenceAt(hearing, to - 1);
  const said = hearing.tokens.slice(sentence.from, sentence.to);
  return goesAgainst(said, stepTextOf(checklist, step).direction);
}

/** Whether the words of a faint claim say more plainly that it was not done: "I did not do" is no half of "I do not miss". */
const isDenied = (claim: Claim, against: readonly Claim[]): boolean =>
  claim.score < CREDIT_FROM &&
  against.some((c) => c.target === claim.target && c.score > claim.score && sharesWords(c, claim));

/** Whether a saying stops the very clock that another would start with the same words: "I am finished counting". */
function undoes(checklist: Checklist, stop: Claim, start: Claim): boolean {
  const [a, b] = [roleOf(checklist, stop.target), roleOf(checklist, start.target)];
  return a.role === 'stop' && b.role === 'start' && a.step === b.step && sharesWords(stop, start);
}

/**
 * Whether a claim only repeats others: faint, in words that a clear one has ("cleaning in between" is not "cleaning
 * under the nails"); in none of its own words and some of another's ("a good rub" is not "the time is up"); or of a step heard
 * before, in words that only sound like it ("the other wrist", "the water, wrist").
 */
function isEcho({ checklist, before }: Situation, all: readonly Claim[], claim: Claim): boolean {
  if (claim.score < CREDIT_FROM) return all.some((c) => c.score >= CREDIT_FROM && sharesWords(c, claim));
  if (!claim.plain) return all.some((c) => c.plain && sharesWords(c, claim));
  const { role, step } = roleOf(checklist, claim.target);
  return role === 'step' && step.id in before.credits && claim.plainScore < CREDIT_FROM;
}

/**
 * Whether a claim only belongs to an explanation in the same sentence: "today I'm going to wash your feet, then I'll dry them"
 * explains, and neither washes nor dries. Once something has been explained, what is announced is begun.
 */
function isExplained(
  { checklist, before, hearing }: Situation,
  all: readonly Claim[],
  claim: Claim,
): boolean {
  if (claim.stance !== 'begun') return false;
  const sentence = sentenceAt(hearing, claim.to - 1);
  return all.some((c) => {
    const { id, plans } = roleOf(checklist, c.target).step;
    const explains = plans && c !== claim && isWhole(c) && !(id in before.credits);
    return explains && overlaps(c, sentence) && strength(c) >= strength(claim);
  });
}
