import { describe, expect, it } from 'vitest';
import { wordingsOf } from '../../app/matching/cue.ts';
import { narrate, shipped } from './making/narrate.ts';
import { openLibrary } from '../../app/library/library.ts';

/** Facts the skills stand on, each with its source. */

const { skills, lexicon } = await openLibrary();
const step = (skill: string, id: string) => skills.get(skill)!.steps.find((s) => s.id === id)!;
const checklist = shipped('hand-washing');

describe('hand washing against published guidance', () => {
  // CDC, "About Handwashing" (cdc.gov/clean-hands/about): scrub your hands for at least 20 seconds. Wording from memory.
  it('asks for at least 20 seconds of scrubbing', () => {
    const { evidence, critical } = step('hand-washing', 'scrub');
    expect(evidence).toMatchObject({ kind: 'timed', atLeast: 20 });
    expect(critical).toBe(true);
  });

  // The same page: wet, lather with soap, scrub, rinse, dry, in this order. Order from memory.
  it('flags every swap of neighbours in wet, soap, scrub, rinse, dry', () => {
    const sayings: readonly (string | number)[][] = [
      ['I am wetting my hands and wrists.'],
      ['Getting some soap.'],
      ['I am scrubbing all surfaces of my hands with friction.', 21, 'That is twenty seconds.'],
      ['I am rinsing from the wrists down to the fingertips.'],
      ['I am drying with a paper towel from the fingertips up.'],
    ];
    const outOfOrder = (order: readonly (string | number)[][]): number =>
      Object.values(narrate(checklist, order.flat()).outcomes).filter((o) => o === 'out of order').length;
    expect(outOfOrder(sayings)).toBe(0);
    for (let i = 0; i + 1 < sayings.length; i += 1) {
      const swapped = [...sayings];
      [swapped[i], swapped[i + 1]] = [sayings[i + 1]!, sayings[i]!];
      expect(outOfOrder(swapped), `swap ${i}`).toBeGreaterThan(0);
    }
  });

  // common practice, no source: nails are a step of their own and their time is no scrubbing time.
  it('halts the scrub clock under the nails', () => {
    expect(step('hand-washing', 'scrub').evidence).toMatchObject({ pausedBy: ['nails'] });
  });

  // common practice, no source: a pedal tap needs no paper towel.
  it('asks for the towel on the tap only where there is a lever', () => {
    expect(step('hand-washing', 'tap-off').when).toEqual({ tap: 'lever' });
    expect(step('hand-washing', 'pedal-off').when).toEqual({ tap: 'pedal' });
  });
});

describe('respirations', () => {
  // Adult at rest: 12–20 breaths a minute (e.g. OpenStax, Clinical Nursing Skills, vital signs; from memory).
  it('takes every resting adult rate, and rates far from it, as a reading', () => {
    const { evidence } = step('respirations', 'record');
    if (evidence.kind !== 'reading') throw new Error('record must be a reading');
    expect(evidence.from).toBeLessThan(12);
    expect(evidence.to).toBeGreaterThan(20);
  });

  // common practice, no source: one full minute; hands are washed before the number is written down.
  it('counts a full minute and wants clean hands before the record', () => {
    expect(step('respirations', 'count').evidence).toMatchObject({ atLeast: 60 });
    expect(step('respirations', 'record').after).toContain('hands-after');
  });
});

describe('range of motion', () => {
  // common practice, no source: at least three repetitions each way, the joint supported, pain asked about.
  it('asks for three repetitions of every movement', () => {
    const counted = skills.get('range-of-motion-leg')!.steps.filter((s) => s.evidence.kind === 'counted');
    expect(counted).toHaveLength(4);
    for (const { evidence } of counted) expect(evidence).toMatchObject({ atLeast: 3 });
  });
});

describe('the shipped skills', () => {
  it('are free of faults', async () => {
    expect((await openLibrary()).faults).toEqual([]);
  });

  it.each([...skills])(
    '%s: credits a step for the wordings of its cues',
    (id) => {
      const stray: string[] = [];
      for (const variants of id === 'hand-washing' ? [{ tap: 'lever' }, { tap: 'pedal' }] : [{}]) {
        const list = shipped(id, variants);
        const creditedBy = (says: readonly (string | number)[]): string[] =>
          narrate(list, says).events.flatMap((e) => (e.type === 'credited' ? [e.step] : []));
        for (const s of list.steps.filter((each) => each.evidence.kind === 'said')) {
          const twins = list.steps.filter((t) => t.cues?.some((each) => s.cues!.includes(each)));
          const isCredited = (credited: readonly string[]): boolean =>
            twins.some(({ id: twin }) => credited.includes(twin));
          for (const cue of s.cues!) {
            for (const wording of wordingsOf(cue, lexicon).filter((_, k) => k % 6 === 0)) {
              if (isCredited(creditedBy([wording]))) continue;
              // Where a step before it is said in the same words, it is this one's turn the next time.
              const credited = creditedBy([wording, 5, wording, 5, wording]);
              if (!isCredited(credited)) stray.push(`${s.id}: "${wording}" → ${credited.join(', ')}`);
            }
          }
        }
      }
      expect(stray).toEqual([]);
    },
    180_000,
  );
});
