import type { Checklist } from './checklist.ts';
import { hear, type Hearing } from './hearing.ts';
import { CREDIT_FROM, settle, UNSURE_FROM, type Claim } from './match.ts';
import type { Utterance } from './utterance.ts';

/**
 * Where two engines listened at once, the words of both are evidence. What both heard is believed sooner; a critical step
 * that the second cannot bear out is unsure; what only the second heard clearly may credit a step that is not critical,
 * unless the first heard something that speaks against it.
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
 * Share of a cue that must be in the second engine's words, anywhere, for it not to contradict the first. One word of content
 * of two is a half.
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
    claims: settle(
      found.filter((c) => c.stance === 'asserted'),
      rank,
    ),
    support: ({ target }) => {
      const [same] = found
        .filter((c) => c.target === target && c.score >= UNSURE_FROM)
        .sort((a, b) => b.score - a.score);
      if (same) return same.stance === 'asserted' ? 'agreed' : 'against';
      return (nearest.get(target) ?? 0) >= NEAR_FROM ? 'near' : 'none';
    },
  };
}

/** Words before a saying that are its own: "I have not…". */
const LEADS_IN = 4;

/** 0–1: how sure the engine is of the least sure word of a saying, with those that lead to it: "have" may be "haven't". */
export function sureness({ utterance: { words, confidence }, tokens }: Hearing, { from, to }: Claim): number {
  const first = Math.max(0, tokens[from]!.at - LEADS_IN);
  const said = words.slice(first, tokens[to - 1]!.at + 1);
  return Math.min(...said.map((word) => word.confidence ?? confidence));
}

/** Whether a claim is a whole saying in words recognised as such. */
export const isWhole = ({ score, plain, plainScore }: Claim): boolean =>
  plain && score >= CREDIT_FROM && plainScore >= CREDIT_FROM;
