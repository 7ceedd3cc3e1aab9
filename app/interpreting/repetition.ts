import { clauseAt } from '../language/clauses.ts';
import { CREDIT_FROM, saysIt, type Claim } from '../matching/claim.ts';
import { findCounts, goesOn, LARGEST_LEAP, type SaidCount } from '../marking/counts.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { roleOf, type Checklist } from '../skills/checklist.ts';
import { evidenceOf, overlaps, sentenceAt, type Hearing, type Span } from './hearing.ts';
import type { Situation } from './situation.ts';

/** Which joint is being moved, and which words are counting. */

/** The joints that short sayings and numbers can be about: those turned to just now, else the one before. */
export function jointsAt(checklist: Checklist, state: State, claims: readonly Claim[]): Set<string> {
  const fresh = claims.flatMap((c) => {
    const role = roleOf(checklist, c.target);
    if (c.score < CREDIT_FROM) return [];
    if (role.role === 'movement') return role.form === 'full' ? [role.joint] : [];
    return saysIt(c) ? jointsBehind(checklist, role.step.id) : [];
  });
  if (fresh.length > 0) return new Set(fresh);
  return new Set(state.counts.joint === null ? [] : [state.counts.joint]);
}

/** Joints whose movements must come after this step, as after supporting the joint. */
export function jointsBehind({ steps, constraints }: Checklist, step: string): string[] {
  return steps.flatMap(({ id, evidence }) =>
    evidence.kind === 'counted' && constraints.some((c) => c.owner === id && c.earlier === step)
      ? [evidence.joint]
      : [],
  );
}

/** The claims without the short sayings ("up") that are not about a joint being moved. */
export function withoutStrayShorts(
  checklist: Checklist,
  hearing: Hearing,
  joints: ReadonlySet<string>,
  claims: readonly Claim[],
): Claim[] {
  const strangeAt = strangersAt(checklist, hearing, claims);
  const counting = (token: number): boolean => strangeAt(token) <= STRANGE_WORDS;
  return claims.filter((c) => {
    const role = roleOf(checklist, c.target);
    if (role.role !== 'movement') return true;
    if (role.form === 'full') return !isOfSomethingElse(hearing, c);
    return joints.has(role.joint) && counting(c.from);
  });
}

/** Whether what is moved is another thing: "I straighten the blanket over your leg" moves no knee. */
const isOfSomethingElse = ({ tokens }: Hearing, { from, to, tokens: own }: Claim): boolean =>
  tokens.slice(from, to).some(({ stem }, i) => !own.includes(from + i) && BEDDING.has(stem));

const BEDDING = new Set('blanket sheet cover pillow gown trouser sock towel linen'.split(' '));

/** The step whose movement a claim names; null where it names none. */
export function movementOf(checklist: Checklist, { target }: Claim): string | null {
  const { role, step } = roleOf(checklist, target);
  return role === 'movement' ? step.id : null;
}

/** The claims without a movement named again in one breath with no other between: "down we point it" is once. */
export function withoutEchoes(checklist: Checklist, { tokens }: Hearing, claims: readonly Claim[]): Claim[] {
  const named = claims.filter((c) => movementOf(checklist, c) !== null).sort((a, b) => a.from - b.from);
  const echoes = named.filter((c, i) => {
    const before = named[i - 1];
    if (!before || movementOf(checklist, before) !== movementOf(checklist, c)) return false;
    return tokens.slice(before.to - 1, c.from).every(({ ends }) => ends === '');
  });
  return claims.filter((c) => !echoes.includes(c));
}

/**
 * The counting words of the utterance that are about a joint being moved. A homophone must end a clause, or stand right between
 * movements: "toes up to and down to".
 *
 * @param meant where the learned judge is sure that a movement is said, in whatever words
 */
export function countsIn(
  checklist: Checklist,
  hearing: Hearing,
  claims: readonly Claim[],
  meant: readonly Span[],
): SaidCount[] {
  const { tokens, carried } = hearing;
  const strangeAt = strangersAt(checklist, hearing, claims);
  const moves = movementWords(checklist, claims);
  const stands = (at: number): boolean => {
    const next = tokens[at + 1];
    if (!next || tokens[at]?.ends !== '') return true;
    const behind = moves.has(at - 1) || tokens[at - 1]?.word === 'again';
    return behind && (next.word === 'and' || moves.has(at + 1));
  };
  return findCounts(tokens, carried).filter(({ at, homophone }) =>
    homophone
      ? stands(at) && strangeAt(at) === 0
      : strangeAt(at) <= STRANGE_WORDS || meant.some(({ from, to }) => at >= from && at < to),
  );
}

/** What a counting word leads to. */
export function takeCount(
  { checklist, hearing }: Situation,
  now: State,
  standing: readonly Claim[],
  counts: readonly SaidCount[],
  said: SaidCount,
): RehearsalEvent[] {
  const { at, count, onlyNext, ordinal } = said;
  if (count === 'again') {
    const isAbout = !onlyNext && !belongsToStep(checklist, hearing, standing, at);
    if (!isAbout || isCountedAnyway(checklist, hearing, now, standing, counts, at)) return [];
  } else if (onlyNext && !goesOn(now.counts, count, ordinal ? LARGEST_LEAP : 1)) return [];
  return [{ type: 'repetition', count, evidence: evidenceOf(hearing, { from: at, to: at + 1 }, 1) }];
}

/** Whether a step other than a movement is said in the same sentence: "the bed is down low again" repeats nothing. */
function belongsToStep(
  checklist: Checklist,
  hearing: Hearing,
  standing: readonly Claim[],
  token: number,
): boolean {
  const sentence = sentenceAt(hearing, token);
  return standing.some((c) => overlaps(c, sentence) && movementOf(checklist, c) === null);
}

/**
 * Whether "again" stands beside the movement it repeats, which counts by its name or by the number that follows: "bend the knee
 * again", "foot up again, three".
 */
function isCountedAnyway(
  checklist: Checklist,
  hearing: Hearing,
  { counts: { movements } }: State,
  standing: readonly Claim[],
  counts: readonly SaidCount[],
  token: number,
): boolean {
  const clause = clauseAt(hearing.clauses, token);
  const sentence = sentenceAt(hearing, token);
  const named = standing
    .filter(({ from }) => from >= clause.from && from < clause.to)
    .flatMap((claim) => movementOf(checklist, claim) ?? []);
  const numbered = counts.some(({ at, count }) => count !== 'again' && at > token && at < sentence.to);
  return named.length > 0 && (numbered || named.every((id) => (movements[id]?.number ?? 0) === 0));
}

/** The tokens with which movements are named. */
const movementWords = (checklist: Checklist, claims: readonly Claim[]): Set<number> =>
  new Set(claims.filter((c) => movementOf(checklist, c) !== null).flatMap((c) => c.tokens));

/**
 * How many words in a token's clause are not about counting: neither numbers nor movements nor small words, as "have" and
 * "pillow" in "I have one pillow here".
 */
function strangersAt(
  checklist: Checklist,
  hearing: Hearing,
  claims: readonly Claim[],
): (token: number) => number {
  const ours = new Set([
    ...movementWords(checklist, claims),
    ...findCounts(hearing.tokens, 0).map((c) => c.at),
  ]);
  return (token) => {
    const { from, to } = clauseAt(hearing.clauses, token);
    return hearing.tokens.slice(from, to).filter((t, i) => !ours.has(from + i) && !COUNTING_WORDS.has(t.stem))
      .length;
  };
}

/** One other word is let pass: a name, a mishearing. With two, small talk with a number in it starts to count. */
const STRANGE_WORDS = 1;

const COUNTING_WORDS = new Set(
  (
    'a an the and that it is i am me my your this now then so to for we of in at one more time repetit rep number done do ' +
    'good okay ok um uh great complet finish each way direct all leg knee foot ankl toe arm elbow wrist shoulder hip ' +
    'slow gentl nice very well up down back out again there go was make count on another'
  ).split(' '),
);
