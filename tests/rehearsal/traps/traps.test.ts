import { describe, expect, it } from 'vitest';
import { interpret } from '../../../app/interpreting/interpret.ts';
import { fold } from '../../../app/marking/state.ts';
import { judged } from '../../written/judging.ts';
import { shipped } from '../making/narrate.ts';
import { CORRECTIONS, creditedBy, saidIn, TRAPS, withoutStep, type Correction } from './traps.ts';

describe('sayings that have a step’s words and must credit nothing', () => {
  // Floors a little above what was measured (DEVELOPERS.md), so that a step back shows.
  it.each([
    ['seen', false, 0.075, 0.02],
    ['held out', true, 0.02, 0],
  ] as const)(
    '%s: few credit anything, fewer a critical step',
    async (_name, heldOut, any, critical) => {
      const part = TRAPS.filter((trap) => trap.heldOut === heldOut);
      const found = [];
      for (const { skill, says } of part) {
        const list = shipped(skill);
        const credited = await creditedBy(list, says);
        found.push({
          credited,
          isCritical: credited.some((id) => list.steps.find((step) => step.id === id)!.critical),
        });
      }
      const share = (n: number): number => n / part.length;
      expect(part.length).toBeGreaterThan(300);
      expect(share(found.filter(({ credited }) => credited.length > 0).length)).toBeLessThanOrEqual(any);
      expect(share(found.filter(({ isCritical }) => isCritical).length)).toBeLessThanOrEqual(critical);
    },
    120_000,
  );
});

describe('a slip put right while the skill is open', () => {
  const led = async (correction: Correction) => {
    const list = shipped(correction.skill);
    const missed = withoutStep(list, correction.step);
    const asked = { type: 'commanded', command: 'correct', at: 50, evidence: null } as const;
    const said = (await judged(saidIn(correction), list)).at(-1);
    return interpret(list, correction.after ? fold(missed, asked) : missed, said!);
  };
  const repaired = async (some: readonly Correction[]): Promise<number> => {
    let count = 0;
    for (const correction of some)
      if ((await led(correction)).some((e) => e.type === 'repaired' && e.step === correction.step)) count++;
    return count / some.length;
  };

  it('is credited and told of as put right, however people say so', async () => {
    const told = CORRECTIONS.filter((correction) => !correction.told);
    expect(await repaired(told.filter(({ heldOut }) => !heldOut))).toBe(1);
    expect(await repaired(told.filter(({ heldOut }) => heldOut))).toBe(1);
  });

  it('is asked about where a critical step is only told', async () => {
    const only = CORRECTIONS.filter(({ told }) => told);
    expect(only).toHaveLength(7);
    for (const correction of only) {
      const events = (await led(correction)).filter((e) => 'step' in e && e.step === correction.step);
      expect(
        events.map(({ type }) => type),
        correction.says,
      ).toEqual(['doubted']);
    }
  });
});
