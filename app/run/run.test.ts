import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { shipped, utterance } from '../../tests/rehearsal/making/narrate.ts';
import { rehearse, type Happening } from '../../tests/rehearsal/making/rehearse.ts';
import { planFor, sit } from '../../tests/rehearsal/making/sit.ts';
import type { Utterance } from '../language/utterance.ts';
import { COMMANDS } from '../language/commands.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { markRehearsal } from '../marking/result.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { Run, type PastRun } from './run.ts';
import { foldRun, NO_RUN } from './runState.ts';
import { practiceOf, type RunPlan } from './testPlan.ts';

const washing = shipped('hand-washing');
const TWO = planFor(['hand-washing', 'respirations']);
const SOAP = 'Getting some soap.';
const NAILS = 'I am cleaning under my nails.';

/** A run with its events as they come. */
function open(plan: RunPlan, past: PastRun | null = null) {
  const events: RehearsalEvent[] = [];
  const run = new Run(
    plan,
    (heard) => Promise.resolve(heard),
    (some) => events.push(...some),
    past,
  );
  return { run, events, types: () => events.map(({ type }) => type) };
}

describe('a run of one skill in practice', () => {
  it('begins without a draw, and with what carries over where it goes on from another', () => {
    expect(open(practiceOf(washing)).types()).toEqual(['began']);
    const continued = open(practiceOf(shipped('respirations'), true));
    expect(new Set(continued.types())).toEqual(new Set(['began', 'carried']));
  });

  it.each(['stop', 'next skill'] as const)('goes on after "%s" until it is ended', async (command) => {
    const { run, types } = open(practiceOf(washing));
    await run.command(command, 3);
    expect(run.isOver).toBe(false);
    await run.hear(utterance(SOAP, 4));
    const { runs } = await run.end(9);
    expect(runs).toMatchObject([{ from: 0, to: 9, state: { ended: 9 } }]);
    expect(Object.keys(run.state.credits)).toEqual(['soap']);
    expect(types()).not.toContain('moved on');
  });

  it('takes nothing in once it is over', async () => {
    const { run, events } = open(practiceOf(washing));
    await run.end(9);
    const before = events.length;
    await run.hear(utterance(SOAP, 10));
    await run.partial({ text: SOAP, start: 10, end: 12 });
    await run.spoke({ text: 'Going on.', from: 10, to: 11 });
    await run.command('pause', 12);
    await run.end(14);
    expect(events).toHaveLength(before);
  });

  it('has no clock of a test, whatever the rules say', async () => {
    const rules = { ...washing.rules, minutes: 1, lookAround: 1 };
    const { run } = open(practiceOf({ ...washing, rules }));
    await run.command('begin', 1);
    await run.tick(500);
    await run.hear(utterance(SOAP, 600));
    expect(run.dueBy(700)).toBeNull();
    expect(run.isOver).toBe(false);
    expect(Object.keys(run.state.credits)).toEqual(['soap']);
  });
});

describe('a run of several skills', () => {
  it('moves on at "next skill", also in a pause, and is over after the last', async () => {
    const { run, types } = open(TWO);
    expect(types().slice(0, 2)).toEqual(['drawn', 'began']);
    await run.hear(utterance(SOAP, 1));
    await run.command('pause', 5);
    await run.hear(utterance('Next skill.', 8, 1));
    expect([run.opened, run.checklist.skill.id, run.state.paused]).toEqual([2, 'respirations', null]);
    expect(run.isOver).toBe(false);
    await run.command('next skill', 20);
    expect(run.isOver).toBe(true);
    const { runs } = run.soFar;
    expect(runs.map(({ to }) => to)).toEqual([runs[1]!.from, 20]);
    expect(Object.keys(runs[0]!.state.credits)).toEqual(['soap']);
  });

  it('does not take a judge that was asked about the skill before for one that denies', async () => {
    const heard = utterance('I am watching her chest and I begin to count.', 4, 1);
    const judged = { ...heard, judged: [{ from: 0, to: heard.words.length, sure: { soap: 0.001 } }] };
    const told = async (judgedFor: string): Promise<readonly Utterance[]> => {
      const { run } = open(TWO);
      await run.command('next skill', 3);
      await run.hear(judged, judgedFor);
      return run.state.utterances;
    };
    expect(await told('hand-washing')).toEqual([heard]);
    expect(await told('respirations')).toEqual([judged]);
  });

  it('is over when its time is up, and tells before what will be', async () => {
    const { run, types } = open(planFor(['hand-washing'], { minutes: 1, lookAround: 1 }));
    expect(run.dueBy(59)).toBeNull();
    expect(run.dueBy(61)).toEqual({ what: 'begin', at: 60 });
    await run.tick(61);
    expect(run.dueBy(125)).toEqual({ what: 'time up', at: 120 });
    await run.hear(utterance(SOAP, 130));
    expect(run.isOver).toBe(true);
    expect(run.soFar.timeUp).toBe(120);
    expect(types().slice(-2)).toEqual(['time up', 'ended']);
    expect(run.state.credits).toEqual({});
  });
});

describe('a run in a pause', () => {
  it('understands commands alone, and goes on after the last word of "go on"', async () => {
    const { run } = open(practiceOf(washing));
    await run.hear(utterance('Pause.', 2, 0));
    await run.hear(utterance(SOAP, 5, 1));
    await run.hear(utterance('How much time is left?', 10, 2));
    await run.partial({ text: NAILS, start: 14, end: 16 });
    await run.hear(utterance('Go on.', 20, 3));
    expect(run.state.commands.map(({ command }) => command)).toEqual(['pause', 'time left', 'go on']);
    expect([run.state.credits, run.state.tentative]).toEqual([{}, {}]);
    expect(run.state.pauses[0]!.to).toBeCloseTo(utterance('Go on.', 20).end);
    await run.hear(utterance(SOAP, 24, 4));
    expect(Object.keys(run.state.credits)).toEqual(['soap']);
  });
});

describe('a partial text', () => {
  it('credits tentatively until the final one settles it, or the end', async () => {
    const { run } = open(practiceOf(washing));
    await run.partial({ text: SOAP, start: 1, end: 2 });
    expect(Object.keys(run.state.tentative)).toEqual(['soap']);
    await run.hear(utterance(SOAP, 1));
    expect(run.state.tentative).toEqual({});
    await run.partial({ text: NAILS, start: 8, end: 10 });
    await run.end(12);
    expect(run.state.withdrawn.map(({ step }) => step)).toEqual(['nails']);
    expect(Object.keys(run.state.credits)).toEqual(['soap']);
  });
});

describe('a run that was broken off', () => {
  const script = ['I am ready.', SOAP];

  it.each([
    ['practice', practiceOf(washing)],
    ['a test', TWO],
  ] as const)('waits in a pause and begins nothing again: %s', async (_, plan) => {
    const { run: first, events: told } = open(plan);
    for (const [id, text] of script.entries()) await first.hear(utterance(text, 5 * id, id));
    const { run, types } = open(plan, { events: [...told], until: 30 });
    expect(types()).toEqual(['paused']);
    expect(run.state).toMatchObject({ paused: 30, breaks: [30], credits: first.state.credits });
    await run.command('go on', 40);
    await run.hear(utterance(NAILS, 45, 9));
    expect(Object.keys(run.state.credits)).toEqual(['soap', 'nails']);
  });

  it('begins where nothing of it was kept', () => {
    expect(open(practiceOf(washing), { events: [], until: 3 }).types()).toEqual(['began']);
  });
});

describe('the times of words that a clock hangs on', () => {
  const START = 'I take some soap and now I am scrubbing all surfaces of my hands with friction. All over.';

  it('are asked for once, and what was heard is not lost where they cannot be had', async () => {
    const asked: (readonly number[])[] = [];
    const run = new Run(practiceOf(washing), (_, wanted) => {
      asked.push(wanted);
      return Promise.reject(new Error('gone'));
    });
    await run.hear(utterance(START));
    expect(asked).toHaveLength(1);
    expect(run.state.clocks['scrub']?.running).toBeTruthy();
  });
});

const SAID = [
  SOAP, NAILS, 'I am wetting my hands and wrists.', 'I am scrubbing all surfaces of my hands with friction.', 'That is twenty seconds.',
  'Rinsing from the wrists down to the fingertips.', 'I forgot the soap.', 'I want to correct something.', 'I have not washed my hands.',
  'Pause.', 'Go on.', 'I am ready.', 'Coach, how much time is left?', 'I maybe took some soap.',
]; // prettier-ignore
const PRESSED = COMMANDS.filter((command) => command !== 'stop' && command !== 'next skill');
const scripts = fc.array(
  fc.oneof(
    { weight: 8, arbitrary: fc.constantFrom(...SAID) },
    { weight: 3, arbitrary: fc.double({ min: 0, max: 25, noNaN: true }) },
    { weight: 2, arbitrary: fc.constantFrom(...PRESSED).map((press) => ({ press })) },
  ),
  { maxLength: 14 },
);
/** Matching is slow beside the usual property. */
const RUNS = { numRuns: 40 };

describe('one run', () => {
  it('of a skill in practice and in a test of this skill alone gives the same marks', () =>
    fc.assert(
      fc.asyncProperty(scripts, async (script) => {
        const plan = planFor(['hand-washing']);
        const [checklist] = plan.checklists;
        const practice = open(practiceOf(checklist!)).run;
        const test = open(plan).run;
        let now = 0;
        for (const [id, happening] of script.entries()) {
          for (const run of [practice, test]) {
            if (typeof happening === 'string') await run.hear(utterance(happening, now, id));
            else if (typeof happening === 'object') await run.command(happening.press, now);
          }
          if (typeof happening === 'number') now += happening;
          if (typeof happening === 'string') now = utterance(happening, now).end + 2;
        }
        await Promise.all([practice.end(now), test.end(now)]);
        expect(markRehearsal(checklist!, test.state)).toEqual(markRehearsal(checklist!, practice.state));
      }),
      RUNS,
    ));

  it('replays a journal of practice to the state that it always had', () => {
    const withMore = fc.array(
      fc.oneof(
        scripts.map((script): readonly Happening[] => script),
        fc.constant<readonly Happening[]>([{ coach: 'Going on.' }, { partial: NAILS }]),
      ),
      { maxLength: 3 },
    );
    return fc.assert(
      fc.asyncProperty(withMore, async (parts) => {
        const { events } = await rehearse(washing, parts.flat());
        // What the coach was saying when it ended was told after it in journals of old.
        const kept = [...events, { type: 'spoke', text: 'The end.', from: 1, to: 2 } as const];
        for (const from of [0, 1])
          expect(kept.slice(from).reduce(foldRun, NO_RUN).runs.at(-1)?.state).toEqual(
            kept.slice(from).reduce(fold, BEFORE),
          );
      }),
      RUNS,
    );
  });

  it('replays a journal of a test to the state that it had, which nothing changes afterwards', async () => {
    const { events, test } = await sit(TWO, [SOAP, 'Next skill.', 3, 'Knock, knock.', 'Stop the test.']);
    expect(events.reduce(foldRun, NO_RUN)).toEqual(test);
    const late: RehearsalEvent = { type: 'spoke', text: 'The end.', from: 1, to: 2 };
    expect(foldRun(test, late)).toBe(test);
  });
});
