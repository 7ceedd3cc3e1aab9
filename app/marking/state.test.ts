import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { heardClearly } from '../language/utterance.ts';
import type { RehearsalEvent } from './events.ts';
import { BEFORE, fold, hasBegun, type State } from './state.ts';

const SAID = { utterance: 0, text: 'said', start: 1, end: 2, score: 1 };
const STEPS = ['wash', 'rinse', 'dry'] as const;

const step = fc.constantFrom<string>(...STEPS);
const at = fc.double({ min: 0, max: 600, noNaN: true });
const evidence = at.map((start) => ({ ...SAID, start, end: start + 1 }));

/** Any event of a rehearsal, in any order. */
const event: fc.Arbitrary<RehearsalEvent> = fc.oneof(
  fc.record({ type: fc.constant('credited' as const), step, evidence }),
  fc.record({ type: fc.constant('doubted' as const), step, evidence, why: fc.constant('faint' as const) }),
  fc.record({ type: fc.constant('noted' as const), step, evidence, stance: fc.constant('denied' as const) }),
  fc.record({
    type: fc.constant('clock' as const),
    step,
    move: fc.constantFrom(
      'start' as const,
      'on' as const,
      'halt' as const,
      'stop' as const,
      'doubt' as const,
    ),
    at,
    uncertainty: fc.constant(0.1),
    word: fc.constant(0),
    evidence,
  }),
  fc.record({ type: fc.constant('joint' as const), joint: step }),
  fc.record({
    type: fc.constant('movement' as const),
    step,
    joint: fc.constant('knee'),
    form: fc.constantFrom('full' as const, 'short' as const, 'announced' as const, 'named' as const),
    evidence,
  }),
  fc.record({
    type: fc.constant('repetition' as const),
    count: fc.oneof(fc.integer({ min: 1, max: 12 }), fc.constant('again' as const)),
    evidence,
  }),
  fc.record({ type: fc.constant('tentative' as const), step, text: fc.string(), at }),
  fc.record({ type: fc.constant('withdrawn' as const), step, text: fc.string(), at }),
  fc.record({
    type: fc.constant('commanded' as const),
    command: fc.constantFrom('begin' as const, 'correct' as const, 'pause' as const),
    at,
    evidence: fc.constant(null),
  }),
  fc.record({ type: fc.constantFrom('paused' as const, 'resumed' as const, 'ended' as const), at }),
  fc.record({
    type: fc.constant('repaired' as const),
    step,
    slip: fc.constant('not heard' as const),
    evidence,
  }),
  at.map((from) => ({ type: 'heard' as const, utterance: heardClearly(0, 'I wash', from), used: [0] })),
);
const events = fc.array(event, { maxLength: 40 });

const after = (...all: readonly RehearsalEvent[]): State => all.reduce(fold, BEFORE);
const credited = (id: string): RehearsalEvent => ({ type: 'credited', step: id, evidence: SAID });
const clock = (move: 'start' | 'stop', seconds: number): RehearsalEvent => ({
  type: 'clock',
  step: 'wash',
  move,
  at: seconds,
  uncertainty: 0,
  word: 0,
  evidence: SAID,
});

describe('folding any events', () => {
  it('always gives a state, the same for the same events, and leaves the one before as it was', () => {
    fc.assert(
      fc.property(events, event, (all, next) => {
        const state = after(...all);
        const copy = structuredClone(state);
        expect(fold(state, next)).toEqual(fold(copy, next));
        expect(state).toEqual(copy);
      }),
    );
  });

  it('never takes a credit away', () => {
    fc.assert(
      fc.property(events, event, (all, next) => {
        const before = after(...all);
        const now = fold(before, next);
        for (const [id, said] of Object.entries(before.credits))
          expect(now.credits[id]?.slice(0, said.length)).toEqual(said);
      }),
    );
  });

  it('credits nothing by doubts, notes, tries and their withdrawal', () => {
    const types = new Set(['doubted', 'noted', 'tentative', 'withdrawn', 'joint', 'commanded', 'paused']);
    fc.assert(
      fc.property(events, (all) => {
        expect(after(...all.filter(({ type }) => types.has(type))).credits).toEqual({});
      }),
    );
  });

  it('has a run that is open for each clock that runs, and for no other', () => {
    fc.assert(
      fc.property(events, (all) => {
        const { clocks, timings } = after(...all);
        const running = Object.entries(clocks).flatMap(([id, { running: since }]) => (since ? [id] : []));
        const open = timings.filter(({ to }) => to === null).map((timing) => timing.step);
        expect(open.sort()).toEqual(running.sort());
        for (const { from, to } of timings) expect(to ?? from).toBeGreaterThanOrEqual(from);
      }),
    );
  });

  it('begins from nothing with each skill', () => {
    fc.assert(
      fc.property(events, (all) => {
        expect(fold(after(...all), { type: 'began', skill: 'hand-washing', variants: {} })).toEqual(BEFORE);
      }),
    );
  });
});

describe('a state', () => {
  it('keeps every saying of a step, in order and with its manner', () => {
    const state = after(credited('wash'), {
      type: 'credited',
      step: 'wash',
      evidence: { ...SAID, start: 9 },
      manner: 'told',
    });
    expect(state.credits['wash']).toEqual([
      { ...SAID, manner: 'done' },
      { ...SAID, start: 9, manner: 'told' },
    ]);
  });

  it('credits a timed step when its clock starts, and not when it is started again while it runs', () => {
    expect(after(clock('start', 1)).credits['wash']).toHaveLength(1);
    expect(after(clock('start', 1), clock('start', 3)).credits['wash']).toHaveLength(1);
    expect(after(clock('start', 1), clock('stop', 3), clock('start', 5)).credits['wash']).toHaveLength(2);
  });

  it('credits a movement that was announced with the first number after it', () => {
    const announced: RehearsalEvent = {
      type: 'movement',
      step: 'bend',
      joint: 'knee',
      form: 'announced',
      evidence: SAID,
    };
    expect(after(announced).credits).toEqual({});
    const counted = after(announced, { type: 'repetition', count: 1, evidence: SAID });
    expect(counted.credits['bend']).toEqual([{ ...SAID, manner: 'begun' }]);
  });

  it('settles what was tentative by a credit, and keeps what was withdrawn to be seen', () => {
    const tentative: RehearsalEvent = { type: 'tentative', step: 'dry', text: 'I dry', at: 4 };
    expect(after(tentative, credited('dry')).tentative).toEqual({});
    const withdrawn = after(tentative, { type: 'withdrawn', step: 'dry', text: 'I dry', at: 4 });
    expect(withdrawn.tentative).toEqual({});
    expect(withdrawn.withdrawn).toEqual([{ step: 'dry', text: 'I dry', at: 4 }]);
  });

  it('stops clocks where a pause began, and leaves the pause out of the time', () => {
    const state = after(
      { type: 'commanded', command: 'begin', at: 0, evidence: null },
      clock('start', 10),
      { type: 'paused', at: 15 },
      { type: 'resumed', at: 40 },
    );
    expect(state.timings).toEqual([{ step: 'wash', from: 10, to: 15, uncertainty: expect.any(Number) }]);
    expect(state).toMatchObject({ paused: null, pauses: [{ from: 15, to: 40 }], pausedSeconds: 25 });
  });

  it('begins at the first "begin", or with a step that is said without one', () => {
    const begin: RehearsalEvent = { type: 'commanded', command: 'begin', at: 7, evidence: null };
    expect(hasBegun(BEFORE)).toBe(false);
    expect(after(begin, { ...begin, at: 9 }).begun).toBe(7);
    expect(after(credited('wash'), begin).begun).toBe(0);
    expect(hasBegun(after(credited('wash')))).toBe(true);
  });

  it('closes a correction with what puts a slip right', () => {
    const correct: RehearsalEvent = { type: 'commanded', command: 'correct', at: 20, evidence: null };
    expect(after(correct).correcting).toBe(20);
    const repaired = after(correct, { type: 'repaired', step: 'dry', slip: 'not heard', evidence: SAID });
    expect(repaired.correcting).toBeNull();
    expect(repaired.repairs).toEqual([{ step: 'dry', slip: 'not heard', evidence: SAID }]);
  });
});
