import { describe, expect, it } from 'vitest';
import type { Checklist } from '../../app/rehearsal/checklist.ts';
import { interpret } from '../../app/rehearsal/rehearsal.ts';
import { fold } from '../../app/rehearsal/state.ts';
import { shipped, utterance } from './narrate.ts';
import { CORRECTIONS, creditedBy, TRAPS, withoutStep, type Correction } from './traps.ts';

const lists = new Map<string, Checklist>();
function listOf(skill: string): Checklist {
  const list = lists.get(skill) ?? shipped(skill);
  lists.set(skill, list);
  return list;
}

describe('sayings that have a step’s words and must credit nothing', () => {
  const all = TRAPS.map((trap) => {
    const list = listOf(trap.skill);
    const credited = creditedBy(list, trap.says);
    const critical = credited.some((id) => list.steps.find((step) => step.id === id)!.critical);
    return { ...trap, credited, critical };
  });
  // Floors a little above what was measured (DEVELOPERS.md), so that a step back shows.
  it.each([
    ['seen', false, 0.075, 0.035],
    ['held out', true, 0.09, 0.015],
  ] as const)('%s: few credit anything, fewer a critical step', (_name, heldOut, any, critical) => {
    const part = all.filter((trap) => trap.heldOut === heldOut);
    const share = (n: number): number => n / part.length;
    expect(part.length).toBeGreaterThan(300);
    expect(share(part.filter(({ credited }) => credited.length > 0).length)).toBeLessThanOrEqual(any);
    expect(share(part.filter((trap) => trap.critical).length)).toBeLessThanOrEqual(critical);
  });
});

describe('a slip put right while the skill is open', () => {
  const led = (correction: Correction) => {
    const list = listOf(correction.skill);
    const missed = withoutStep(list, correction.step);
    const asked = { type: 'commanded', command: 'correct', at: 50, evidence: null } as const;
    return interpret(
      list,
      correction.after ? fold(missed, asked) : missed,
      utterance(correction.says, 60, 900),
    );
  };
  const isRepaired = (correction: Correction): boolean =>
    led(correction).some((e) => e.type === 'repaired' && e.step === correction.step);

  it('is credited and told of as put right, in most ways in which people say so', () => {
    const told = CORRECTIONS.filter((correction) => !correction.told);
    const share = (part: readonly Correction[]): number => part.filter(isRepaired).length / part.length;
    expect(share(told.filter(({ heldOut }) => !heldOut))).toBeGreaterThanOrEqual(0.93);
    expect(share(told.filter(({ heldOut }) => heldOut))).toBeGreaterThanOrEqual(0.85);
  });

  it('is asked about where a critical step is only told', () => {
    const only = CORRECTIONS.filter(({ told }) => told);
    expect(only).toHaveLength(6);
    for (const correction of only) {
      const events = led(correction).filter((e) => 'step' in e && e.step === correction.step);
      expect(
        events.map(({ type }) => type),
        correction.says,
      ).toEqual(['doubted']);
    }
  });
});
