import { findNumbers } from '../language/numbers.ts';
import { mannerOf } from '../language/stance.ts';
import type { Utterance } from '../language/utterance.ts';
import { tokenAt } from '../language/words.ts';
import { isWhole, saysIt, UNSURE_FROM, type Claim } from '../matching/claim.ts';
import { settle } from '../matching/settle.ts';
import type { Doubt, RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { roleOf, type Checklist } from '../skills/checklist.ts';
import { takenAs } from '../skills/manner.ts';
import type { Step } from '../skills/skill.ts';
import { clockMoves } from './clockMoves.ts';
import { evidenceOf, hear, wordAt, type Hearing } from './hearing.ts';
import { readNumber, type Reading } from './reading/readings.ts';

/**
 * Where two engines listened at once, the words of both are evidence. What both heard is believed sooner; a critical step
 * that the second cannot bear out is unsure; what only the second heard clearly may credit a step, unless the first heard something that speaks
 * against it, and a critical one only where the first heard much of it too.
 */
export interface SecondHearing {
  readonly hearing: Hearing;
  /** What it claims to have been said and done, settled among themselves. */
  readonly claims: readonly Claim[];
  /** How well it bears out a claim of the first. */
  support(claim: Claim): Support;
}

/**
 * `agreed`: it claims the same; `near`: much of the same words is in it; `none`: it heard something else; `against`: it heard
 * that it was not done.
 */
export type Support = 'agreed' | 'near' | 'none' | 'against';

/**
 * Share of a cue that must be in the other engine's words, anywhere, for it not to contradict a critical step. One word of
 * content of two is a half.
 */
const NEAR_FROM = 0.45;

/** The second engine's part of an utterance; null where one listened alone or the second heard no words. */
export function secondHearing(
  { matcher }: Checklist,
  { id, second }: Utterance,
  rank: (target: string) => number,
): SecondHearing | null {
  if (!second || second.words.length === 0) return null;
  const hearing = hear({ id, ...second }, undefined);
  const { tokens, clauses, markers } = hearing;
  const found = matcher.find(tokens, clauses, markers);
  const nearest = new Map(matcher.nearest(tokens).map((n) => [n.target, n.score]));
  return {
    hearing,
    claims: settle(found.filter(saysIt), rank),
    support: ({ target }) => {
      const [same] = found
        .filter((c) => c.target === target && c.score >= UNSURE_FROM)
        .sort((a, b) => b.score - a.score);
      if (same) return saysIt(same) ? 'agreed' : 'against';
      return (nearest.get(target) ?? 0) >= NEAR_FROM ? 'near' : 'none';
    },
  };
}

/** Words before a saying that are its own: "I have not…". */
const LEADS_IN = 4;

/** 0–1: how sure an engine is of the least sure word of a saying, with those that lead to it: "have" may be "haven't". */
function sureness({ utterance: { words, confidence }, tokens }: Hearing, { from, to }: Claim): number {
  const first = Math.max(0, tokenAt(tokens, from).at - LEADS_IN);
  const said = words.slice(first, tokenAt(tokens, to - 1).at + 1);
  return Math.min(...said.map((word) => word.confidence ?? confidence));
}

/** What only the second engine claims, and where it belongs among the first one's tokens. */
export interface Added {
  readonly claim: Claim;
  /** As the second engine heard it. */
  readonly hearing: Hearing;
  readonly at: number;
  /** How much of it the first engine heard, 0–1. */
  readonly borneOut: number;
}

/**
 * The words that a step rests on which the second engine alone heard must be so sure: 0–1. Chosen on the dev half of the
 * corpus; below, half-heard words of one step credit another.
 */
const SURE_ALONE = 0.8;

/**
 * What the second engine alone claims, where the first heard nothing that speaks against it.
 *
 * @param said what the first engine claims to have been said, done or not
 */
export function addedBy(
  checklist: Checklist,
  first: Hearing,
  { hearing, claims }: SecondHearing,
  said: readonly Claim[],
): Added[] {
  if (speaksAgainst(first, hearing)) return [];
  const startOf = (h: Hearing, token: number): number =>
    wordAt(h.utterance, tokenAt(h.tokens, token).at).start;
  const stepOf = ({ target }: Claim): string => roleOf(checklist, target).step.id;
  const near = new Map(checklist.matcher.nearest(first.tokens).map(({ target, score }) => [target, score]));
  return claims
    .filter((claim) => isWhole(claim) && !said.some((c) => stepOf(c) === stepOf(claim)))
    .map((claim) => {
      const start = startOf(hearing, claim.from);
      const before = first.tokens.filter((_, t) => t >= first.carried && startOf(first, t) < start);
      const at = first.carried + before.length - 0.5;
      return { claim, hearing, at, borneOut: near.get(claim.target) ?? 0 };
    });
}

/** Whether the first engine asked, or alone heard a "not", "should I" or "if": that speaks against all that the second heard without it. */
function speaksAgainst({ tokens, markers, carried }: Hearing, second: Hearing): boolean {
  const words = new Set(second.tokens.map(({ word }) => word));
  const isMissed = (t: number): boolean => t >= carried && !words.has(tokenAt(tokens, t).word);
  return (
    markers.some((m) => m.tokens.some(isMissed)) || tokens.slice(carried).some(({ ends }) => ends === '?')
  );
}

/** The events of what only the second engine claims. */
export function takeAdded(
  checklist: Checklist,
  now: State,
  { claim, hearing, borneOut }: Added,
): RehearsalEvent[] {
  const role = roleOf(checklist, claim.target);
  if (role.role === 'value' || role.role === 'movement') return [];
  const { id, critical } = role.step;
  const manner = mannerOf(claim.stance) ?? 'done';
  const taken = takenAs(checklist.rules, role.step, manner);
  if (taken === 'no') return [];
  const evidence = evidenceOf(hearing, claim, claim.score);
  const clear =
    role.role === 'step' &&
    taken === 'counts' &&
    (!critical || borneOut >= NEAR_FROM) &&
    sureness(hearing, claim) >= SURE_ALONE;
  const doubt: Doubt | null = clear ? null : 'one';
  // Its words have their own times; as if at the first one's edge, nobody looks for them again.
  const said = { span: claim, role, announced: manner === 'begun', doubt, evidence };
  const moves = clockMoves(checklist, now, hearing, said, []).map((move) => ({ ...move, word: 0 }));
  if (role.role === 'stop') return moves;
  return [
    ...moves,
    clear
      ? { type: 'credited', step: id, evidence, ...(manner !== 'done' && { manner }) }
      : { type: 'doubted', step: id, evidence, why: 'one' },
  ];
}

/** A number that the second engine did not hear alike is asked about. */
export function compared(reading: Reading, step: Step, { hearing, claims }: SecondHearing): Reading {
  const alone = { before: undefined, corrects: false, asksOfAny: false };
  const [other] = claims.flatMap((c) => readNumber(step, hearing, c, reading.evidence, alone) ?? []);
  const values = findNumbers(hearing.utterance.words.map((w) => w.text)).map(({ value }) => value);
  if (values.includes(reading.value) && (!other || other.value === reading.value)) return reading;
  const rivals = [...new Set([...reading.rivals, ...(other ? [other.value] : [])])].filter(
    (v) => v !== reading.value,
  );
  return { ...reading, sure: false, rivals, why: reading.why ?? 'unclear' };
}
