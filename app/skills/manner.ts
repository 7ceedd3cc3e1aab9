import { MANNERS, type Manner } from '../language/stance.ts';
import type { Rules, Step, Taken } from './skill.ts';

/** How the rules take what is said as it begins ("I'm going to…") or told ("here I would…"). */

/**
 * How a step said in some manner is taken. What is only told is no time, no repetition and no number: it is asked about at
 * the most.
 */
export function takenAs(rules: Rules, step: Step, manner: Manner): Taken {
  if (manner === 'done') return 'counts';
  const { ordinary, critical } = manner === 'begun' ? rules.nearFuture : rules.would;
  const taken = step.critical ? critical : ordinary;
  const isMeasured = step.evidence.kind !== 'said';
  return manner === 'told' && isMeasured && taken === 'counts' ? 'asks' : taken;
}

/** The most direct of some manners; null of none. */
export const mostDirect = (manners: readonly Manner[]): Manner | null =>
  MANNERS.find((manner) => manners.includes(manner)) ?? null;

const WORDS: Readonly<Record<Taken, string>> = {
  counts: 'counts',
  asks: 'is asked about',
  no: 'does not count',
};

/** The rules' policy in two sentences for the screen. */
export function mannerPolicy({ nearFuture, would }: Pick<Rules, 'nearFuture' | 'would'>): string {
  const said = ({ ordinary, critical }: Rules['would'], told: string): string =>
    ordinary === critical
      ? `${WORDS[ordinary]}${ordinary === 'counts' ? told : ''}`
      : `${WORDS[ordinary]}${ordinary === 'counts' ? told : ''}, and ${WORDS[critical]} for a critical step`;
  return (
    `A step said as you begin it (“I’m going to…”) ${said(nearFuture, '')}. ` +
    `What you say you would do (“here I would…”) ${said(would, ' as told, not done')}.`
  );
}
