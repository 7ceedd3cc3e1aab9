import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../app/language/commands.ts';
import { RehearsalEventSchema, type RehearsalEvent } from '../../app/marking/events.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { BEFORE, fold } from '../../app/marking/state.ts';
import { shipped } from './making/narrate.ts';
import { rehearse, type Happening } from './making/rehearse.ts';
import { planFor, sit } from './making/sit.ts';
import { reviewEvents } from '../../app/review/arbitraryReview.ts';

const lever = shipped('hand-washing');
const leg = shipped('range-of-motion-leg');
const breaths = shipped('respirations');

const START = 'I am scrubbing all surfaces of my hands with friction.';
const RINSE = 'Now I am rinsing from the wrists down to the fingertips.';

/** Sayings of every kind: credits, doubts, stances, clocks, commands, small talk. */
const LINES = [
  'Good morning, my name is Dana and I am your nurse aide today.', 'Getting some soap.', 'Getting some soap later.', START,
  'Back to scrubbing.', 'Cleaning under my nails.', RINSE, 'Next I will rinse from the wrists to the fingertips.',
  'I am rincing from the rists down to the fingatips.', 'That is twenty seconds.', 'I am done scrubbing.', 'Pause.', 'Go on.',
  'Coach, pause.', 'I am rinsing my hands. Coach, pause.', 'Read the card.', 'How long have I scrubbed?', "Let's begin.",
  'I am finished.', 'Stop the rehearsal.', 'I want to correct something.', 'Next skill.', 'I always hum a little song.',
  'Drying with a clean paper towel from the fingertips up.', 'I have not washed my hands.',
]; // prettier-ignore

const happening: fc.Arbitrary<Happening> = fc.oneof(
  { weight: 6, arbitrary: fc.constantFrom(...LINES) },
  { weight: 3, arbitrary: fc.double({ min: 0, max: 25, noNaN: true }) },
  { weight: 2, arbitrary: fc.constantFrom(...LINES).map((partial) => ({ partial })) },
  { weight: 2, arbitrary: fc.constantFrom(...COMMANDS).map((press) => ({ press })) },
  { weight: 1, arbitrary: fc.constantFrom(...LINES).map((coach) => ({ coach })) },
);
const scripts = fc.array(happening, { maxLength: 14 });
/** Matching is slow beside the usual property: these many say enough. */
const RUNS = { numRuns: 60 };

const throughJournal = (event: RehearsalEvent): RehearsalEvent =>
  RehearsalEventSchema.parse(JSON.parse(JSON.stringify(event)));

const evidence = { utterance: 3, text: 'yes', start: 6, end: 7, score: 1 };
const READ_BACK: readonly RehearsalEvent[] = [
  { type: 'reading', step: 'record', value: 414, sure: false, rivals: [], evidence, why: 'changed', said: { value: 14, unit: 'ounces' } },
  { type: 'read back', readings: [{ step: 'record', value: 414 }, { step: 'other', value: null }], at: 5 },
  { type: 'confirmed', step: 'record', evidence },
  { type: 'taken back', step: 'record', evidence },
]; // prettier-ignore

describe('the journal', () => {
  it('keeps every kind of event as it was', async () => {
    const all = [
      ...(await rehearse(lever, [
        'Getting some soap.', 'I maybe took some soap.', 'I am rincing from the rists down to the fingatips.',
        { partial: 'Cleaning under my nails' }, START, 12, 'Pause.', 'Go on.', { press: 'time left' }, { coach: 'Going on.' }, 2,
        'Later I will rinse from the wrists to the fingertips.',
      ])).events,
      ...(await rehearse(leg, [
        'I am supporting the leg under the knee and at the ankle.', 'I bend the knee, one.', 'Bend, again.',
      ])).events,
      ...(await rehearse(breaths, ['I write down 16 respirations.'])).events,
      ...(await sit(planFor(['hand-washing', 'respirations'], { minutes: 1 }), [
        'I am ready.', 'What is your full name?', 'Getting some soap.', 'I am wetting my hands all over.', 'Correct a step.', 'I am wetting my hands all over.', 'Next skill.',
        'Cleaning under my nails.', 90,
      ])).events,
      ...READ_BACK, // From the room, which reads numbers back, and what is answered.
      { type: 'loudness', of: 'noise', from: 1, to: 3.5, level: -41.25 } as const, // From the microphone, not from what was said.
      { type: 'met', measure: 'pressure', seed: 4_294_967_295, pattern: 'gap', at: 0.25 } as const, // With a simulated resident.
      { type: 'handled', at: 12.5, how: { do: 'valve', rate: 2.5 } } as const,
      ...fc.sample(reviewEvents(['scrub']), 50), // From a person, afterwards.
    ]; // prettier-ignore
    const kinds = RehearsalEventSchema.options.map((option) => option.shape.type.value);
    expect(new Set(all.map((e) => e.type))).toEqual(new Set(kinds));
    for (const event of all) expect(throughJournal(event)).toEqual(event);
  });

  it('refuses what is no event, and an event with a field too many', () => {
    expect(RehearsalEventSchema.safeParse({ type: 'applauded', at: 3 }).success).toBe(false);
    expect(RehearsalEventSchema.safeParse({ type: 'paused' }).success).toBe(false);
    expect(RehearsalEventSchema.safeParse({ type: 'paused', at: 3, by: 'me' }).success).toBe(false);
    // Steps of these names would be found in any object: a journal made up so must not bring down the list of all.
    const tentative = { type: 'tentative', step: 'scrub', text: '', at: 3 };
    expect(RehearsalEventSchema.safeParse(tentative).success).toBe(true);
    for (const step of ['__proto__', 'constructor', 'toString'])
      expect(RehearsalEventSchema.safeParse({ ...tentative, step }).success, step).toBe(false);
  });

  it('gives the same state as the rehearsal, whole or up to any line', async () => {
    await fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const { events, state } = await rehearse(lever, script);
        expect(events.map(throughJournal).reduce(fold, BEFORE)).toEqual(state);
        for (const length of [0, 1, Math.floor(events.length / 2), events.length - 1]) {
          const prefix = events.slice(0, length);
          const once = prefix.reduce(fold, BEFORE);
          expect(prefix.map(throughJournal).reduce(fold, BEFORE)).toEqual(once);
          // What lies behind a torn end can still be marked.
          expect(() => markRehearsal(lever, once)).not.toThrow();
        }
      }),
      RUNS,
    );
  });
});

describe('whatever happens', () => {
  it('a tentative credit is credited or withdrawn, never gone', async () => {
    await fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const { events } = await rehearse(lever, script);
        let state = BEFORE;
        for (const event of events) {
          const next = fold(state, event);
          const gone = Object.keys(state.tentative).filter((step) => !(step in next.tentative));
          for (const step of gone) {
            expect(['credited', 'withdrawn']).toContain(event.type);
            expect(event).toHaveProperty('step', step);
          }
          state = next;
        }
        expect(state.tentative).toEqual({});
      }),
      RUNS,
    );
  });

  it('an aside credits nothing: a rehearsal held wholly in a pause has no marks', async () => {
    const noResume = scripts.map((script) =>
      script.filter(
        (h) => !(typeof h === 'string' && /go on/i.test(h)) && !(typeof h === 'object' && 'press' in h),
      ),
    );
    await fc.assert(
      fc.asyncProperty(noResume, async (script) => {
        const { state } = await rehearse(lever, [{ press: 'pause' }, 1, ...script]);
        expect(state.utterances).toEqual([]);
        expect([state.credits, state.doubts, state.notes, state.clocks, state.readings]).toEqual([
          {},
          {},
          {},
          {},
          {},
        ]);
      }),
      RUNS,
    );
  });

  it('what the coach says while it says it credits nothing', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.constantFrom(...LINES), { minLength: 1, maxLength: 8 }), async (lines) => {
        const { state } = await rehearse(
          lever,
          lines.flatMap((line): Happening[] => [{ coach: line }, line]),
        );
        expect(state.credits).toEqual({});
        expect(state.commands).toEqual([]);
      }),
      RUNS,
    );
  });

  it('a pause lengthens no run', async () => {
    const within = fc.array(fc.double({ min: 0, max: 9, noNaN: true }), { minLength: 2, maxLength: 4 });
    await fc.assert(
      fc.asyncProperty(
        within,
        fc.double({ min: 0, max: 90, noNaN: true }),
        fc.boolean(),
        async (parts, pause, again) => {
          const scrub = async (halts: readonly Happening[]): Promise<number> => {
            const [first, ...rest] = parts;
            const { marks } = await rehearse(lever, [START, first!, ...halts, ...rest, RINSE]);
            return marks.clocks[0]!.seconds;
          };
          const through = await scrub([]);
          const said = again ? ['Back to scrubbing.', 0] : [];
          const broken = await scrub([{ press: 'pause' }, pause, { press: 'go on' }, ...said]);
          expect(broken).toBeLessThanOrEqual(through + 1e-9);
        },
      ),
      RUNS,
    );
  });
});
