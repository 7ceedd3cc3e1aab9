import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { MEASURES, type Measure } from '../../skills/measure.ts';
import { breathsInMinute } from '../breaths.ts';
import { beatsAMinute } from '../pulse.ts';
import { BEAMS } from '../scale.ts';
import { handlingsOf, VALVE, type Ask } from './asks.ts';
import { handle, HandlingSchema, UNTOUCHED, type Handled, type Instruments } from './instruments.ts';
import { breathingOf, patternFrom, PATTERNS, pulseOf, type Resident } from './resident.ts';
import { asksIn } from './sayings.ts';
import { countTruth, lookBackAtCuff, soundTruth } from './truth.ts';
import { armOf } from '../pressure.ts';

const WITH = { seed: 7, beam: BEAMS.pounds };

/** The instruments after asks, a second apart. */
const after = (asks: readonly Ask[], seed = 7): Instruments =>
  asks.reduce(
    (now, ask, at) =>
      handlingsOf(ask, now, { ...WITH, seed }).reduce((then, how) => handle(then, { at, how }), now),
    UNTOUCHED,
  );

describe('what is said to the instruments', () => {
  const SAID: readonly (readonly [Measure, string, readonly Ask[]])[] = [
    ['pulse', 'I have the pulse.', [{ ask: 'fingers on' }]],
    ['pulse', "Okay, I've got the pulse now.", [{ ask: 'fingers on' }]],
    ['pulse', 'I can feel it.', [{ ask: 'fingers on' }]],
    ['pulse', 'I let go of the wrist.', [{ ask: 'fingers off' }]],
    ['pressure', 'Pump it up.', [{ ask: 'pump', to: null }]],
    ['pressure', 'I am pumping up the cuff', [{ ask: 'pump', to: null }]],
    ['pressure', 'Pump it up to one sixty, please.', [{ ask: 'pump', to: 160 }]],
    ['pressure', 'Pump the cuff up to one hundred and eighty.', [{ ask: 'pump', to: 180 }]],
    ['pressure', "That's high enough.", [{ ask: 'enough' }]],
    ['pressure', 'Stop pumping. Let it down.', [{ ask: 'enough' }, { ask: 'let down' }]],
    ['pressure', 'A little slower.', [{ ask: 'slower' }]],
    ['pressure', 'Faster, please.', [{ ask: 'faster' }]],
    ['pressure', 'All the air out.', [{ ask: 'all air out' }]],
    ['pressure', 'Close the valve.', [{ ask: 'shut' }]],
    ['pressure', 'I am listening.', [{ ask: 'listen' }]],
    ['urine', 'Eye level.', [{ ask: 'eye level' }]],
    ['urine', 'I go down to eye level.', [{ ask: 'eye level' }]],
    ['urine', 'a bit lower', [{ ask: 'lower' }]],
    ['weight', 'Move the large poise to one hundred.', [{ ask: 'large', to: 100 }]],
    ['weight', 'The small poise to forty-two and a half.', [{ ask: 'small', to: 42.5 }]],
    ['weight', 'The large one back.', [{ ask: 'large by', by: -1 }]],
    ['weight', 'A little more.', [{ ask: 'small by', by: 1 }]],
    ['weight', 'Much less.', [{ ask: 'small by', by: -10 }]],
    ['weight', 'Set the scale to zero.', [{ ask: 'set to zero' }]],
    ['pressure', 'I wrap the cuff round your arm. High enough.', []],
    ['pressure', 'The first sound is at one eighteen.', []],
    ['weight', 'You weigh one hundred fifty-two pounds.', []],
    ['pulse', 'I have the call light.', []],
    ['respirations', 'Starting now.', []],
  ];
  it.each(SAID)('%s: "%s"', (measure, text, asks) => expect(asksIn(measure, text)).toEqual(asks));
});

describe('the instruments', () => {
  const asks = fc.array(
    fc.oneof(
      fc.constantFrom<Ask>(
        ...(['fingers on', 'fingers off', 'squeeze', 'let down', 'slower', 'faster', 'shut', 'all air out', 'listen', 'feel'] as const).map((ask) => ({ ask })),
        ...(['support arm', 'eye level', 'lower', 'higher', 'set to zero', 'step on', 'step off', 'enough'] as const).map((ask) => ({ ask })),
      ),
      fc.record({ ask: fc.constantFrom('large' as const, 'small' as const), to: fc.double({ min: 0, max: 400, noNaN: true }) }),
      fc.record({ ask: fc.constantFrom('large by' as const, 'small by' as const), by: fc.integer({ min: -30, max: 30 }) }),
    ),
    { maxLength: 40 },
  ); // prettier-ignore

  it('are only ever put where they can be, by handlings that the journal takes', () => {
    fc.assert(
      fc.property(asks, fc.nat(), (all, seed) => {
        let now = UNTOUCHED;
        for (const [at, ask] of all.entries())
          for (const how of handlingsOf(ask, now, { ...WITH, seed })) {
            expect(HandlingSchema.parse(JSON.parse(JSON.stringify(how)))).toEqual(how);
            now = handle(now, { at, how });
          }
        const { poises, above, valve } = now;
        expect(VALVE).toContain(valve);
        expect(poises.large).toBeGreaterThanOrEqual(0);
        expect(poises.large).toBeLessThanOrEqual(BEAMS.pounds.notches);
        expect((poises.small / BEAMS.pounds.mark) % 1).toBe(0);
        expect(poises.small).toBeLessThanOrEqual(BEAMS.pounds.notch);
        expect(above).toBeGreaterThanOrEqual(0);
      }),
    );
  });

  it('shuts the valve before a squeeze, and never lets "slower" shut it', () => {
    expect(after([{ ask: 'squeeze' }, { ask: 'let down' }, { ask: 'squeeze' }]).cuff.map((each) => each.do)).toEqual([
      'squeeze', 'valve', 'valve', 'squeeze',
    ]); // prettier-ignore
    const slow = after([
      { ask: 'let down' },
      ...Array.from({ length: 9 }, () => ({ ask: 'slower' as const })),
    ]);
    expect(slow.valve).toBe(1);
  });

  it('opens the valve rightly for some residents and not for others', () => {
    const rates = new Set(Array.from({ length: 50 }, (_, seed) => after([{ ask: 'let down' }], seed).valve));
    expect([...rates].filter((rate) => rate >= 2 && rate <= 3).length).toBeGreaterThan(0);
    expect([...rates].filter((rate) => rate > 3).length).toBeGreaterThan(0);
  });
});

const resident = (measure: Measure, seed: number, pattern: Resident['pattern']): Resident => ({
  measure,
  seed,
  pattern,
  at: 0,
});

describe('the truth', () => {
  it('of a count holds every count that the words’ uncertainty leaves possible', () => {
    fc.assert(
      fc.property(
        fc.nat(),
        fc.double({ min: 0, max: 300, noNaN: true }),
        fc.double({ min: 0, max: 0.6, noNaN: true }),
        fc.double({ min: -1, max: 1, noNaN: true }),
        fc.constantFrom('respirations' as const, 'pulse' as const),
        (seed, from, uncertainty, off, measure) => {
          const one = resident(measure, seed, 'irregular');
          const { value, least, most } = countTruth(one, { from, to: null, uncertainty });
          const start = from + off * uncertainty;
          const counted =
            measure === 'pulse'
              ? beatsAMinute(pulseOf(one, 500), start)
              : breathsInMinute(breathingOf(one, 500), start);
          expect(counted).toBeGreaterThanOrEqual(least);
          expect(counted).toBeLessThanOrEqual(most);
          expect(value).toBeGreaterThanOrEqual(least);
          expect(value).toBeLessThanOrEqual(most);
          if (uncertainty === 0) expect([least, most]).toEqual([value, value]);
        },
      ),
    );
  });

  /** Pumps to a pressure from 10 s on, waits a little, lets down at a rate until empty. */
  const cuff = (to: number, rate: number): Handled[] => [
    ...Array.from({ length: Math.ceil(to / 10) }, (_, i): Handled => ({
      at: 10 + i,
      how: { do: 'squeeze' },
    })),
    { at: 10 + to / 10 + 2, how: { do: 'valve', rate } },
  ];

  it('of a pressure let down rightly lies within what a beat lets fall of the resident’s own', () => {
    fc.assert(
      fc.property(fc.nat(), fc.constantFrom(2, 2.5, 3), (seed, rate) => {
        const one = resident('pressure', seed, 'plain');
        const handled: Handled[] = [{ at: 1, how: { do: 'support arm' } }, ...cuff(190, rate)];
        const { systolic, diastolic } = armOf(seed, false);
        const [first, last] = [soundTruth(one, handled, 150, 'first'), soundTruth(one, handled, 150, 'last')];
        // One beat lasts a second at most, or a little more, and numbers are read to the nearest 2.
        expect(systolic - (first?.value ?? 0)).toBeLessThanOrEqual(rate * 1.3 + 1);
        expect((last?.value ?? 999) - diastolic).toBeLessThanOrEqual(rate * 1.3 + 1);
        expect(lookBackAtCuff(one, handled, 150).measured.remarks).toEqual([]);
      }),
      { numRuns: 40 },
    );
  });

  it('of a pressure is none before the cuff was pumped', () => {
    expect(soundTruth(resident('pressure', 3, 'plain'), [], 100, 'first')).toBeNull();
  });
});

describe('a resident', () => {
  it.each(MEASURES)('for %s has a pattern that the journal knows; ordinary ones the same', (measure) => {
    fc.assert(
      fc.property(fc.nat(), (seed) => {
        expect(PATTERNS).toContain(patternFrom(measure, seed, 'any'));
        expect(patternFrom(measure, seed, 'any')).toBe(patternFrom(measure, seed, 'any'));
        expect(patternFrom(measure, seed, 'ordinary')).toBe(patternFrom(measure, seed + 1, 'ordinary'));
      }),
    );
  });
});
