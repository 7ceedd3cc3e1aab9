import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Run } from '../../app/run/run.ts';
import { COMMANDS } from '../../app/language/commands.ts';
import { RehearsalEventSchema, type RehearsalEvent } from '../../app/marking/events.ts';
import { lateIn, markTest } from '../../app/run/mockTest.ts';
import { byItself, foldRun, NO_RUN, openSkill } from '../../app/run/runState.ts';
import { talkOf } from '../../app/run/talk.ts';
import { orderFlags } from '../../app/skills/order.ts';
import { elapsed, timeLeft } from '../../app/marking/testClock.ts';
import { utterance } from './making/narrate.ts';
import { planOf, versionRemarks } from '../../app/run/testPlan.ts';
import { planFor, SHELF, sit } from './making/sit.ts';

const THREE = planFor(['hand-washing', 'respirations', 'range-of-motion-leg']);

const outcome = (result: ReturnType<typeof markTest>, skill: number, step: string) =>
  result.skills[skill]!.steps.find(({ id }) => id === step)!;

describe('a mock test', () => {
  it('goes through its skills in their order on one clock, and says what was not reached', async () => {
    const { test, result } = await sit(THREE, [
      'I am ready.', 'Getting some soap.', 'Next skill.', 60, 'Knock, knock, may I come in?', 'Next skill.',
      'I am supporting the leg under the knee and at the ankle.',
    ]); // prettier-ignore
    expect(test.runs).toHaveLength(3);
    expect(outcome(result, 0, 'soap').outcome).toBe('heard');
    expect(outcome(result, 1, 'knock').outcome).toBe('heard');
    expect(outcome(result, 2, 'support-knee').outcome).toBe('heard');
    expect(outcome(result, 1, 'greet').outcome).toBe('not heard');
    // One clock: it began with the first skill and did not begin again with the others.
    expect(new Set(test.runs.map(({ state }) => state.begun)).size).toBe(1);
    expect(result.passed).toBe(false);

    const early = await sit(THREE, ['I am ready.', 'Getting some soap.', 'Stop the test.', 'Knock, knock.']);
    expect(early.result.skills.map(({ reached }) => reached)).toEqual([true, false, false]);
    expect(early.test.runs).toHaveLength(1);
  });

  it('is never over between two skills', async () => {
    const over: boolean[] = [];
    let look = (): void => undefined;
    const run = new Run(
      THREE,
      (heard) => Promise.resolve(heard),
      () => look(),
    );
    look = () => over.push(run.isOver);
    for (let i = 0; i < 2; i++) await run.command('next skill', i);
    expect(over).not.toContain(true);
    await run.command('next skill', 2);
    expect(over.at(-1)).toBe(true);
  });

  it('begins with the first step where nobody says that they are ready', async () => {
    const { test } = await sit(THREE, [50, 'Getting some soap.', 20, 'Next skill.', 20, 'Knock, knock.']);
    expect(test.runs.map(({ state }) => Math.floor(state.begun))).toEqual([50, 50]);
  });

  it('passes when as many skills pass as the rules ask', async () => {
    const lenient = planFor(['hand-washing', 'respirations'], { share: 0, skillsToPass: 1 });
    const scrub = ['I am wetting my hands and wrists.', 'Getting some soap.', 'Lather away from the water.'];
    const washed = [
      'I am ready.', ...scrub, 'I am scrubbing all surfaces of my hands with friction.', 24, 'That is twenty seconds.',
      'Rinsing from the wrists down to the fingertips.',
    ]; // prettier-ignore
    const { result } = await sit(lenient, [...washed, 'Next skill.', 'Stop the test.']);
    expect(result).toMatchObject({ passedSkills: 1, needed: 1, passed: true });
    const strict = { ...lenient.rules, skillsToPass: 2 };
    const { test } = await sit(lenient, [...washed, 'Next skill.', 'Stop the test.']);
    expect(markTest(lenient.checklists, strict, test)).toMatchObject({ needed: 2, passed: false });
  });

  it('begins by itself once the time to look around is over', async () => {
    const looking = planFor(['hand-washing'], { lookAround: 1 });
    const { test, now } = await sit(looking, [100, 'Getting some soap.', 5]);
    expect(test.runs[0]!.state.begun).toBe(60);
    expect(elapsed(test.runs[0]!.state, now)).toBeCloseTo(now - 60);
  });

  it('ends when the time is up, and marks what was done', async () => {
    const short = planFor(['hand-washing', 'respirations'], { minutes: 1 });
    const { test, result } = await sit(short, [
      'I am ready.', 'Getting some soap.', 70, 'Cleaning under my nails.', 'Next skill.', 'Knock, knock.',
    ]); // prettier-ignore
    expect(test.timeUp).toBeCloseTo(test.runs[0]!.state.begun + 60);
    expect(test.runs).toHaveLength(1);
    expect(outcome(result, 0, 'soap').outcome).toBe('heard');
    expect(outcome(result, 0, 'nails').outcome).toBe('not heard');
    expect(result).toMatchObject({ timeUp: test.timeUp, passed: false });
    expect(result.skills[1]!.reached).toBe(false);
  });

  it('does not count a saying that ends after the time', async () => {
    const short = planFor(['hand-washing'], { minutes: 1 });
    const { result, test } = await sit(short, [
      'I am ready.',
      56.5,
      'I am getting some soap from the dispenser now.',
    ]);
    expect(test.timeUp).not.toBeNull();
    expect(outcome(result, 0, 'soap').outcome).toBe('not heard');
  });
});

describe('a mock test that was broken off', () => {
  it('is gone on with where it was, the time standing meanwhile, and its result says so', async () => {
    const { events } = await sit(THREE, [
      'I am ready.',
      'Getting some soap.',
      'Next skill.',
      'Knock, knock.',
    ]);
    const kept = events.filter(({ type }) => type !== 'ended');
    const run = new Run(THREE, (heard) => Promise.resolve(heard), undefined, {
      events: kept,
      until: 40,
    });
    expect(run.checklist.skill.id).toBe('respirations');
    expect(run.state.paused).toBe(40);
    await run.command('go on', 90);
    await run.hear(utterance('I close the curtain for privacy.', 95, 50));
    const test = await run.end(100);
    const result = markTest(THREE.checklists, THREE.rules, test);
    expect(outcome(result, 1, 'knock').outcome).toBe('heard');
    expect(outcome(result, 1, 'privacy').outcome).toBe('heard');
    expect(result.skills[1]).toMatchObject({ breaks: [40], pauses: [{ from: 40, to: 90 }] });
    const { state } = test.runs[1]!;
    expect(elapsed(state, 100)).toBeCloseTo(100 - state.begun - 50);
  });

  it('is over, and takes nothing in, where it had ended', async () => {
    const { events, test } = await sit(THREE, ['I am ready.', 'Getting some soap.', 'Stop the test.']);
    const run = new Run(THREE, (heard) => Promise.resolve(heard), undefined, {
      events,
      until: 40,
    });
    await run.hear(utterance('I close the curtain for privacy.', 95, 50));
    expect(await run.end(100)).toEqual(test);
  });
});

describe('a mock test looked at later', () => {
  it('is planned again from its record, and says which skills are others now', async () => {
    const { test } = await sit(THREE, ['I am ready.', 'Getting some soap.', 'Stop the test.']);
    const again = planOf(SHELF, test.drawn!);
    expect(again.checklists.map(({ skill }) => skill.id)).toEqual(
      THREE.checklists.map(({ skill }) => skill.id),
    );
    expect(versionRemarks(again, test.drawn!)).toEqual([]);
    const skills = SHELF.skills.map((skill) =>
      skill.id === 'respirations' ? { ...skill, version: 3 } : skill,
    );
    expect(versionRemarks(planOf({ ...SHELF, skills }, test.drawn!), test.drawn!)).toEqual([
      'Counting respirations was sat under version 1, and is marked under version 3.',
    ]);
    const gone = { ...SHELF, skills: SHELF.skills.filter(({ id }) => id !== 'respirations') };
    expect(() => planOf(gone, test.drawn!)).toThrow(/There is no skill "respirations"/);
  });
});

describe('a correction', () => {
  const WASH = ['I am ready.', 'Getting some soap.', 'I am wetting my hands and wrists.'];

  it('puts right what was out of order, and the result says so', async () => {
    const without = await sit(THREE, [...WASH, 'I am wetting my hands and wrists.']);
    expect(outcome(without.result, 0, 'wet').outcome).toBe('out of order');
    const { result } = await sit(THREE, [
      ...WASH,
      'I want to correct something.',
      'I am wetting my hands and wrists.',
    ]);
    expect(outcome(result, 0, 'wet')).toMatchObject({
      outcome: 'heard',
      note: /Put right in a correction.*out of order/,
    });
    expect(result.skills[0]!.repairs).toMatchObject([{ step: 'wet', slip: 'out of order' }]);
  });

  it('does not put the order of a critical step right by words alone', async () => {
    const breaths = planFor(['respirations']);
    const early = ['I am ready.', 'Starting now.', 61, 'Done.', 'I write down 16 respirations.'];
    const again = ['I want to correct something.', 'I write down 16 respirations.'];
    const { result } = await sit(breaths, [...early, ...again, 'I wash my hands.']);
    expect(result.skills[0]!.repairs).toHaveLength(1);
    expect(outcome(result, 0, 'record').outcome).toBe('out of order');
    const done = await sit(breaths, [...early, 'I wash my hands.', ...again]);
    expect(outcome(done.result, 0, 'record').outcome).toBe('heard');
  });

  it('credits what was left out before, and not what was only still to come', async () => {
    const { result } = await sit(THREE, [
      ...WASH, 'Cleaning under my nails.', 'I want to correct something.', 'I forgot the lather.', 'Making lather away from the water.',
    ]); // prettier-ignore
    expect(result.skills[0]!.repairs).toMatchObject([{ step: 'lather', slip: 'not heard' }]);
    const ahead = await sit(THREE, [...WASH, 'I want to correct something.', 'Cleaning under my nails.']);
    expect(ahead.result.skills[0]!.repairs).toEqual([]);
  });

  it('takes a number said again', async () => {
    const breaths = planFor(['respirations']);
    const { result } = await sit(breaths, [
      'I am ready.', 'Starting now.', 61, 'That is one full minute, done.', 'I wash my hands.', 'I write down 16 respirations.',
      'I want to correct something.', 'I write down 18 respirations.',
    ]); // prettier-ignore
    expect(result.skills[0]!.readings.map(({ value }) => value)).toEqual([18]);
    expect(result.skills[0]!.repairs.map(({ step }) => step)).toEqual(['record']);
  });

  it('comes too late once the skill is closed: it earns nothing, and is told', async () => {
    const { result, test } = await sit(THREE, [
      ...WASH, 'Next skill.', 'Knock, knock.', 'I want to correct something.', 'I forgot: I am cleaning under my nails.',
    ]); // prettier-ignore
    expect(outcome(result, 0, 'nails').outcome).toBe('not heard');
    expect(test.late).toMatchObject([{ skill: 0, step: 'nails' }]);
    expect(result.skills[0]!.late).toHaveLength(1);
    expect(result.skills[1]!.repairs).toEqual([]);
  });

  it('comes too late as well where half of it sounded like a step of the open skill', async () => {
    const { test } = await sit(THREE, [...WASH, 'Next skill.', 'Knock, knock.']);
    const said = utterance('I am cleaning under my nails.', 300, 90);
    const led: RehearsalEvent[] = [
      { type: 'heard', utterance: said, used: [] },
      { type: 'withdrawn', step: 'hands-before', text: 'I am cleaning', at: 301 },
    ];
    expect(lateIn(THREE.checklists, test, said, led)).toMatchObject([{ type: 'late', step: 'nails' }]);
  });

  it('lets a clock be done again in full, while the skill is open only', async () => {
    const scrub = (seconds: number) => [
      'I am scrubbing all surfaces of my hands with friction.',
      seconds,
      'That is twenty seconds.',
    ];
    const open = await sit(THREE, [...WASH, ...scrub(12), 'I want to correct something.', ...scrub(24)]);
    expect(outcome(open.result, 0, 'scrub')).toMatchObject({ outcome: 'heard', note: /Put right/ });
    const closed = await sit(THREE, [...WASH, ...scrub(12), 'Next skill.', ...scrub(24)]);
    expect(outcome(closed.result, 0, 'scrub').outcome).toBe('not heard');
  });
});

describe('a later skill by itself', () => {
  it('is not silent while the one before it goes on', async () => {
    const plan = planFor(['hand-washing', 'respirations']);
    const { test } = await sit(plan, ['I am ready.', 100, 'Next skill.', 'Knock, knock, may I come in?']);
    const [, second] = test.runs;
    const [, checklist] = plan.checklists;
    if (!second || !checklist) throw new Error('Two skills were reached.');
    const talk = talkOf(checklist, byItself(second), second.to ?? 0);
    expect(talk.silences).toEqual([]);
    expect(talk.of).toBeLessThan(10);
    expect(talkOf(checklist, second.state, second.to ?? 0).silences).not.toEqual([]);
  });
});

describe('the evaluator’s own number', () => {
  // common practice, no source: a respiration count within 2 of the evaluator's.
  it.each([
    [16, 'heard'],
    [18, 'heard'],
    [19, 'not heard'],
    [13, 'not heard'],
  ])('of %d makes a recorded 16 %s', async (evaluator, expected) => {
    const plan = planFor(['respirations']);
    const { test } = await sit(plan, [
      'I am ready.',
      'Starting now.',
      61,
      'Done.',
      'I wash my hands.',
      'I write down 16 respirations.',
    ]);
    const result = markTest(plan.checklists, plan.rules, test, { respirations: { record: evaluator } });
    expect(outcome(result, 0, 'record').outcome).toBe(expected);
  });
});

const SAID = [
  'Getting some soap.', 'I am wetting my hands and wrists.', 'Cleaning under my nails.', 'Knock, knock, may I come in?',
  'I am scrubbing all surfaces of my hands with friction.', 'That is twenty seconds.', 'Starting now.', 'I write down 16 respirations.',
  'Rinsing from the wrists down to the fingertips.', 'I wash my hands.', 'I close the curtain for privacy.', 'I bend the knee, one.',
  'I am supporting the leg under the knee and at the ankle.', 'I forgot the soap.', 'I want to correct something.', 'Next skill.',
  'Pause.', 'Go on.', 'I am ready.',
]; // prettier-ignore
const scripts = fc.array(
  fc.oneof(
    { weight: 8, arbitrary: fc.constantFrom(...SAID) },
    { weight: 3, arbitrary: fc.double({ min: 0, max: 200, noNaN: true }) },
    { weight: 2, arbitrary: fc.constantFrom(...COMMANDS).map((press) => ({ press })) },
  ),
  { maxLength: 16 },
);
/** Matching is slow beside the usual property. */
const RUNS = { numRuns: 60 };

describe('the laws of a mock test', () => {
  it('a closed skill never changes', () =>
    fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const { seen, test } = await sit(THREE, script);
        for (const before of seen)
          before.runs.forEach((run, i) => {
            if (run.to !== null) expect(test.runs[i]).toEqual(run);
          });
      }),
      RUNS,
    ));

  it('a credit never vanishes; a mark that gets worse has an event that says why', () =>
    fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const { events } = await sit(THREE, script);
        let test = NO_RUN;
        for (const event of events) {
          const next = foldRun(test, event);
          test.runs.forEach(({ state }, i) => {
            for (const [step, said] of Object.entries(state.credits))
              expect(next.runs[i]!.state.credits[step]!.slice(0, said.length)).toEqual(said);
          });
          test = next;
        }
      }),
      RUNS,
    ));

  it('its events, replayed from the journal up to any point, give the same states', () =>
    fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const { events, test } = await sit(THREE, script);
        const kept = events.map((event) => RehearsalEventSchema.parse(JSON.parse(JSON.stringify(event))));
        let live = NO_RUN;
        kept.forEach((_, i) => {
          live = foldRun(live, events[i]!);
          if (i % 7 === 0) expect(kept.slice(0, i + 1).reduce(foldRun, NO_RUN)).toEqual(live);
        });
        expect(kept.reduce(foldRun, NO_RUN)).toEqual(test);
      }),
      RUNS,
    ));

  it('its clock never runs backwards, stands in a pause, and the time left and passed make the limit', () =>
    fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const { test, now } = await sit(THREE, script);
        for (const { state } of test.runs) {
          let last = 0;
          for (let at = 0; at < now + 10; at += 1.7) {
            const passed = elapsed(state, at);
            expect(passed).toBeGreaterThanOrEqual(last);
            expect(passed + timeLeft(THREE.rules, state, at)!).toBeCloseTo(30 * 60);
            last = passed;
          }
        }
        if (test.timeUp !== null) expect(openSkill(test)).toBeNull();
      }),
      RUNS,
    ));

  it('flags the same steps as a checker that tries every pair of sayings', () => {
    const ids = ['a', 'b', 'c', 'd'];
    const constraint = fc
      .tuple(fc.constantFrom(...ids), fc.constantFrom(...ids), fc.boolean())
      .filter(([x, y]) => x !== y)
      .map(([earlier, later, blameEarlier]) => ({
        earlier,
        later,
        owner: blameEarlier ? earlier : later,
        directly: false,
      }));
    const said = fc.dictionary(
      fc.constantFrom(...ids),
      fc
        .array(fc.integer({ min: 0, max: 30 }), { minLength: 1, maxLength: 3 })
        .map((t) => t.sort((x, y) => x - y)),
    );
    fc.assert(
      fc.property(fc.array(constraint, { maxLength: 6 }), said, (constraints, times) => {
        const flagged = new Set(
          orderFlags(constraints, new Map(Object.entries(times))).map(({ step }) => step),
        );
        const wrong = new Set<string>();
        for (const { earlier, later, owner } of constraints) {
          const [first, second] = [times[earlier], times[later]];
          if (!first || !second) continue;
          let isKept = false;
          for (const x of first) for (const y of second) if (x <= y) isKept = true;
          if (!isKept) wrong.add(owner);
        }
        expect(flagged).toEqual(wrong);
      }),
    );
  });
});
