import type { Checklist } from '../skills/checklist.ts';
import { clockMoves } from './clockMoves.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import { evidenceOf, hear, type Hearing } from './hearing.ts';
import { takenAs } from '../skills/manner.ts';
import { CREDIT_FROM, saysIt, settle, UNSURE_FROM, type Claim } from '../skills/match.ts';
import { findNumbers } from '../language/numbers.ts';
import { mannerOf } from '../language/stance.ts';
import { readNumber, type Reading } from './readings.ts';
import type { Step } from '../skills/skill.ts';
import type { State } from './state.ts';
import type { Utterance } from '../language/utterance.ts';

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
  const first = Math.max(0, tokens[from]!.at - LEADS_IN);
  const said = words.slice(first, tokens[to - 1]!.at + 1);
  return Math.min(...said.map((word) => word.confidence ?? confidence));
}

/** Whether a claim is a whole saying in words recognised as such. */
export const isWhole = ({ score, plain, plainScore }: Claim): boolean =>
  plain && score >= CREDIT_FROM && plainScore >= CREDIT_FROM;

/** What only the second engine claims, and where it belongs among the first one's tokens. */
export interface Added {
  readonly claim: Claim;
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
  // What the first alone heard of "not", "should I", "if" speaks against all that the second heard without it.
  const words = new Set(hearing.tokens.map(({ word }) => word));
  const own = (t: number): boolean => t >= first.carried;
  const isAgainst = first.markers.some(({ tokens }) =>
    tokens.some((t) => own(t) && !words.has(first.tokens[t]!.word)),
  );
  if (isAgainst || first.tokens.some(({ ends }, t) => own(t) && ends === '?')) return [];
  const startOf = (h: Hearing, token: number): number => h.utterance.words[h.tokens[token]!.at]!.start;
  const stepOf = ({ target }: Claim): string => checklist.roles.get(target)!.step.id;
  const near = new Map(checklist.matcher.nearest(first.tokens).map(({ target, score }) => [target, score]));
  return claims
    .filter((claim) => isWhole(claim) && !said.some((c) => stepOf(c) === stepOf(claim)))
    .map((claim) => {
      const start = startOf(hearing, claim.from);
      const before = first.tokens.filter((_, t) => own(t) && startOf(first, t) < start);
      return { claim, at: first.carried + before.length - 0.5, borneOut: near.get(claim.target) ?? 0 };
    });
}

/** The events of what only the second engine claims. */
export function takeAdded(
  checklist: Checklist,
  now: State,
  { hearing }: SecondHearing,
  { claim, borneOut }: Added,
): RehearsalEvent[] {
  const role = checklist.roles.get(claim.target)!;
  const { id, critical } = role.step;
  if (role.role !== 'step' && role.role !== 'start' && role.role !== 'stop') return [];
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
  const moves = clockMoves(checklist, now, hearing, said, []).map((move) =>
    move.type === 'clock' ? { ...move, word: 0 } : move,
  );
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
  const other = claims.flatMap((c) => readNumber(step, hearing, c, reading.evidence) ?? [])[0];
  const values = findNumbers(hearing.utterance.words.map((w) => w.text)).map(({ value }) => value);
  if (values.includes(reading.value) && (!other || other.value === reading.value)) return reading;
  const rivals = [...new Set([...reading.rivals, ...(other ? [other.value] : [])])].filter(
    (v) => v !== reading.value,
  );
  return { ...reading, sure: false, rivals };
}
