import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { narrate, shipped } from '../../tests/rehearsal/making/narrate.ts';
import { heardClearly } from '../language/utterance.ts';
import type { ReviewEvent } from '../marking/events.ts';
import { reviewOf } from '../review/review.ts';
import { agreementOf, AgreementSchema } from './agreement.ts';
import { findingOf, pairsOf, type Pair } from './pairs.ts';
import { saidAt } from './saidAt.ts';
import { suggestionsOf } from './suggestions.ts';

const PAIR: Pair = {
  attempt: '20260131T093000Z-hand-washing',
  skill: 'hand-washing',
  version: 1,
  engine: 'moonshine/moonshine-tiny-en',
  step: 'wet',
  text: 'Wets hands',
  critical: false,
  outcome: 'heard',
  credited: true,
  verdict: 'yes',
  blind: false,
  cue: null,
  said: 'I wet my hands.',
};
const MISS: Partial<Pair> = { outcome: 'not heard', credited: false };
const pairs = fc.array(
  fc
    .record({
      step: fc.constantFrom('wet', 'soap', 'scrub'),
      engine: fc.constantFrom('moonshine/a', 'vosk/b'),
      version: fc.constantFrom(1, 2),
      critical: fc.boolean(),
      outcome: fc.constantFrom('heard' as const, 'not heard' as const, 'unsure' as const),
      verdict: fc.constantFrom('yes' as const, 'no' as const, 'unsure' as const),
      said: fc.option(fc.constantFrom('I wet my hands.', 'i wet my hands', 'Water on now.', '…')),
    })
    .map((made): Pair => ({ ...PAIR, ...made, credited: made.outcome === 'heard' })),
);

describe('the agreement of machine and persons', () => {
  it('tells a false credit from a miss, and leaves out where the person could not tell', () => {
    const { all } = agreementOf([
      PAIR,
      { ...PAIR, verdict: 'no' },
      { ...PAIR, ...MISS },
      { ...PAIR, ...MISS, outcome: 'unsure' },
      { ...PAIR, ...MISS, verdict: 'no' },
      { ...PAIR, verdict: 'unsure' },
    ]);
    expect(all).toMatchObject({
      judged: 5,
      bothYes: 1,
      bothNo: 1,
      falseCredits: 1,
      misses: 2,
      asked: 1,
      open: 1,
    });
    expect(all.observed).toBeCloseTo(2 / 5, 12);
  });

  it('puts what a school should look at first first', () => {
    const { byStep } = agreementOf([
      PAIR,
      { ...PAIR, ...MISS, step: 'soap' },
      { ...PAIR, ...MISS, step: 'soap' },
      { ...PAIR, step: 'scrub', verdict: 'no' },
    ]);
    expect(byStep.map(({ step }) => step)).toEqual(['scrub', 'soap', 'wet']);
  });

  it('is a document as its schema says, its parts add up, and machine and person may change places', () => {
    fc.assert(
      fc.property(pairs, (made) => {
        const document = AgreementSchema.parse(JSON.parse(JSON.stringify(agreementOf(made))));
        for (const part of [document.bySkill, document.byEngine, document.byStep, document.byCue])
          expect(part.reduce((sum, { judged, open }) => sum + judged + open, 0)).toBe(made.length);
        const swapped = made
          .filter(({ verdict }) => verdict !== 'unsure')
          .map((p): Pair => ({ ...p, credited: p.verdict === 'yes', verdict: p.credited ? 'yes' : 'no' }));
        const other = agreementOf(swapped).all;
        expect([other.falseCredits, other.misses]).toEqual([document.all.misses, document.all.falseCredits]);
        expect(other.observed).toEqual(document.all.observed);
        expect(other.kappa ?? 2).toBeCloseTo(document.all.kappa ?? 2, 10);
      }),
    );
  });

  it('suggests only what was said where a person says yes and the machine does not', () => {
    fc.assert(
      fc.property(pairs, (made) => {
        const misses = made.filter((pair) => findingOf(pair) === 'miss');
        const suggestions = suggestionsOf(made);
        for (const { step, said } of suggestions)
          expect(misses.some((miss) => miss.step === step && miss.said === said)).toBe(true);
        const times = suggestions.reduce((sum, s) => sum + s.times, 0);
        expect(times).toBe(misses.filter(({ said }) => said !== null && said !== '…').length);
      }),
    );
  });
});

describe('what was said for a step', () => {
  it('is the sentence that had begun at the moment named', () => {
    const talk = [heardClearly(0, 'Water on. I wet both hands now.', 10), heardClearly(1, 'Soap next.', 20)];
    expect(saidAt(talk, 9)).toBeNull();
    expect(saidAt(talk, 10.1)).toBe('Water on.');
    expect(saidAt(talk, 12)).toBe('I wet both hands now.');
    expect(saidAt(talk, 19)).toBe('I wet both hands now.');
    expect(saidAt(talk, 99)).toBe('Soap next.');
  });

  it('comes from the attempt, with the cue that its words are nearest to', () => {
    const checklist = shipped('hand-washing');
    const { state } = narrate(checklist, [
      'I am wetting my hands and wrists.',
      'Getting some soap.',
      'Bubbles everywhere.',
    ]);
    const say = (step: string, verdict: 'yes' | 'no', heardAt: number | null): ReviewEvent => {
      return {
        type: 'reviewed',
        by: 'R. Ortega',
        madeAt: '2026-11-30T09:00:00.000Z',
        skill: 0,
        step,
        verdict,
        reason: '',
        heardAt,
        blind: true,
      };
    };
    const bubbles = state.utterances.at(-1)?.start ?? 0;
    const review = reviewOf([say('wet', 'yes', null), say('lather', 'yes', bubbles + 2)]);
    const found = pairsOf({ attempt: 'x', engine: 'moonshine/a' }, checklist, state, review);
    expect(found.map(findingOf)).toEqual(['both yes', 'miss']);
    expect(found[0]).toMatchObject({ step: 'wet', blind: true });
    expect(found[0]?.cue).toMatch(/wet/);
    expect(suggestionsOf(found)).toEqual([
      { skill: 'hand-washing', step: 'lather', said: 'Bubbles everywhere.', times: 1 },
    ]);
  });
});
