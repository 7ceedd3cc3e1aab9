import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { narrate, shipped } from '../../tests/rehearsal/making/narrate.ts';
import type { ReviewEvent } from '../marking/events.ts';
import { BEFORE } from '../marking/state.ts';
import { NOT_REVIEWED, reviewOf } from '../review/review.ts';
import { attemptOf, type Attempt } from './attempt.ts';
import { hardestSteps, heatMap, LEAST_PEOPLE, notPractised, readiness } from './classView.ts';
import { worthPractising } from './nextPractice.ts';
import { missedIn, pointOf, progressOf, streakOf } from './trainee.ts';

const NOW = '2026-11-30T12:00:00.000Z';
const daysAgo = (days: number): string => new Date(Date.parse(NOW) - days * 86_400_000).toISOString();
const STEPS = ['greet', 'scrub', 'dry'] as const;
/** An attempt with the steps that were credited, in order of {@link STEPS}; "scrub" is critical. */
const tried = (credited: readonly (boolean | null)[], changes: Partial<Attempt> = {}): Attempt => ({
  id: 'x',
  trainee: 'A. Moreno',
  startedAt: daysAgo(1),
  skill: 'hand-washing',
  title: 'Hand washing',
  steps: STEPS.map((step, i) => ({
    step,
    text: step,
    critical: step === 'scrub',
    credited: credited[i] ?? null,
  })),
  passed: credited.every((each) => each !== false),
  clocks: [],
  readings: [],
  narrated: 0.8,
  longestSilence: 0,
  ...changes,
});
const GOOD = [true, true, true];
const NO_SCRUB = [true, false, true];
const anyAttempt = fc
  .record({
    credited: fc.array(fc.constantFrom(true, false, null), { minLength: 3, maxLength: 3 }),
    days: fc.nat(60),
    trainee: fc.option(fc.constantFrom('A', 'B', 'C')),
    skill: fc.constantFrom('hand-washing', 'respirations'),
  })
  .map(({ credited, days, ...rest }) => tried(credited, { startedAt: daysAgo(days), ...rest }));

describe('an attempt', () => {
  const checklist = shipped('respirations');
  const heard = narrate(checklist, [
    ...['Starting now.', 61, 'Done, one full minute, 16 breaths.'],
    'I am writing down 16 breaths a minute.',
  ]).state;
  // Nothing weighs the numbers of a made utterance, so they are asked about: here the number was heard clearly.
  const readings = Object.entries(heard.readings).map(([step, each]) => [
    step,
    { ...each, sure: true, why: null },
  ]);
  const state = { ...heard, readings: Object.fromEntries(readings) };
  const about = { id: 'x', trainee: null, startedAt: NOW };
  const say = (step: string, verdict: 'yes' | 'no' | 'unsure'): ReviewEvent => {
    const by = { by: 'R. Ortega', madeAt: NOW };
    return { type: 'reviewed', ...by, skill: 0, step, verdict, reason: '', heardAt: null, blind: false };
  };
  const creditedIn = (events: readonly ReviewEvent[], step: string) =>
    attemptOf(about, checklist, state, reviewOf(events)).steps.find((each) => each.step === step)?.credited;

  it('takes the person at her word where she has judged, and the machine elsewhere', () => {
    const timed = checklist.steps.find(({ evidence }) => evidence.kind === 'timed')?.id ?? '';
    expect(creditedIn([], timed)).toBe(true);
    expect(creditedIn([say(timed, 'no')], timed)).toBe(false);
    // 16 was said; the rules allow 2 either way: common practice, no source.
    const reading = checklist.steps.find(({ evidence }) => evidence.kind === 'reading')?.id ?? '';
    const measured = (value: number): ReviewEvent => ({
      ...{ type: 'measured', by: 'R. Ortega', madeAt: NOW },
      ...{ skill: 0, step: reading, value },
    });
    expect([18, 19].map((value) => creditedIn([measured(value)], reading))).toEqual([true, false]);
    expect(creditedIn([measured(19), say(reading, 'yes')], reading)).toBe(true);
  });

  it('says nothing of what words cannot show until a person has', () => {
    const washing = shipped('hand-washing');
    const eyes = washing.steps.find(({ evidence }) => evidence.kind === 'eyes')?.id;
    if (eyes === undefined) throw new Error('A step of hand washing needs eyes.');
    const credited = (events: readonly ReviewEvent[]) =>
      attemptOf(about, washing, BEFORE, reviewOf(events)).steps.find(({ step }) => step === eyes)?.credited;
    expect([credited([]), credited([say(eyes, 'yes')]), credited([say(eyes, 'unsure')])]).toEqual([
      null,
      true,
      false,
    ]);
  });

  it('holds what was timed and read', () => {
    const attempt = attemptOf(about, checklist, state, NOT_REVIEWED);
    expect(attempt.clocks[0]).toMatchObject({ met: true, required: 60 });
    expect(attempt.readings).toMatchObject([{ said: 16, truth: null }]);
  });

  it('is no pass while a person cannot tell a critical step', () => {
    const yes = checklist.steps.map(({ id }) => say(id, 'yes'));
    const critical = checklist.steps.find((step) => step.critical)?.id ?? '';
    expect(attemptOf(about, checklist, state, reviewOf(yes)).passed).toBe(true);
    const doubted = reviewOf([...yes, say(critical, 'unsure')]);
    expect(attemptOf(about, checklist, state, doubted).passed).toBe(false);
  });
});

describe("a trainee's progress", () => {
  it('goes by time, and counts the good ones at its end', () => {
    const [one] = progressOf([
      tried(GOOD, { startedAt: daysAgo(1) }),
      tried(NO_SCRUB, { startedAt: daysAgo(3) }),
      tried(GOOD, { startedAt: daysAgo(2) }),
    ]);
    expect(one?.points.map(({ passed }) => passed)).toEqual([false, true, true]);
    expect(one?.points[0]).toMatchObject({ credited: 2, of: 3, criticalMissed: ['scrub'] });
    expect(one?.streak).toBe(2);
    expect(streakOf([])).toBe(0);
  });

  it('names what is weakest now: critical steps first, by the last five attempts', () => {
    const old = Array.from({ length: 5 }, (_, i) =>
      tried([false, true, true], { startedAt: daysAgo(90 + i) }),
    );
    const late = [[true, true, false], [true, true, false], NO_SCRUB, GOOD, GOOD].map((credited, i) =>
      tried(credited, { startedAt: daysAgo(9 - i) }),
    );
    const [one] = progressOf([...old, ...late]);
    expect(one?.weakest.map(({ step, missed, of }) => [step, missed, of])).toEqual([
      ['scrub', 1, 5],
      ['dry', 2, 5],
    ]);
  });

  it('loses no attempt, whatever their order', () => {
    fc.assert(
      fc.property(fc.array(anyAttempt), (attempts) => {
        const progress = progressOf(attempts);
        expect(progress.flatMap(({ points }) => points)).toHaveLength(attempts.length);
        for (const { points, streak } of progress) {
          const times = points.map(({ startedAt }) => Date.parse(startedAt));
          expect(times).toEqual([...times].sort((a, b) => a - b));
          expect(points.slice(points.length - streak).every(({ passed }) => passed)).toBe(true);
        }
        for (const { missed, of } of missedIn(attempts)) expect(missed).toBeLessThanOrEqual(of);
      }),
    );
  });
});

describe('what to practise next', () => {
  const skills = ['a', 'b', 'c', 'd', 'e', 'f'].map((id) => ({ id, title: id.toUpperCase() }));
  it('follows the written rule, and says why', () => {
    const attempts = [
      tried(GOOD, { skill: 'a', startedAt: daysAgo(20) }),
      tried([true, true, false], { skill: 'b', passed: false }),
      tried(NO_SCRUB, { skill: 'd' }),
      tried(GOOD, { skill: 'e' }),
      tried([false, true, false], { skill: 'f', passed: false }),
    ];
    expect(worthPractising(skills, attempts.map(pointOf), NOW)).toEqual([
      { skill: 'd', title: 'D', reason: 'A critical step was missed the last time: scrub.' },
      { skill: 'f', title: 'F', reason: '2 of 3 steps were missed the last time.' },
      { skill: 'c', title: 'C', reason: 'Not tried yet.' },
      { skill: 'b', title: 'B', reason: '1 of 3 steps were missed the last time.' },
      { skill: 'a', title: 'A', reason: 'Last tried 20 days ago.' },
    ]);
  });

  it('looks at the last attempt alone', () => {
    const attempts = [tried(NO_SCRUB, { startedAt: daysAgo(5) }), tried(GOOD)];
    expect(
      worthPractising([{ id: 'hand-washing', title: 'Hand washing' }], attempts.map(pointOf), NOW),
    ).toEqual([]);
  });
});

describe('a class', () => {
  it('is seen step by step and trainee by trainee, by name, with who has not tried', () => {
    const attempts = [
      tried(GOOD, { startedAt: daysAgo(9), trainee: 'Bo' }),
      tried(NO_SCRUB, { trainee: 'Bo' }),
      tried([true, null, true], { trainee: 'Ada' }),
    ];
    const map = heatMap(['Cy', 'Bo', 'Ada', 'Bo'], attempts, 'hand-washing');
    expect(map.trainees).toEqual([
      { name: 'Ada', cells: [true, null, true] },
      { name: 'Bo', cells: NO_SCRUB },
      { name: 'Cy', cells: [null, null, null] },
    ]);
    expect(notPractised(['Cy', 'Bo'], attempts, 'hand-washing')).toEqual(['Cy']);
    expect(notPractised(['Cy', 'Bo'], attempts, 'respirations')).toEqual(['Bo', 'Cy']);
  });

  it('misses what its trainees missed the last time, each counted once', () => {
    const attempts = [
      ...Array.from({ length: 9 }, () => tried(NO_SCRUB, { trainee: 'Bo' })),
      tried([true, true, false], { trainee: 'Ada' }),
      tried(NO_SCRUB, { trainee: null }),
    ];
    expect(hardestSteps(attempts, 'hand-washing')?.map(({ step, missed, of }) => [step, missed, of])).toEqual(
      [
        ['scrub', 1, 2],
        ['dry', 1, 2],
      ],
    );
  });

  it('is not shown across schools while it is under ten', () => {
    const people = (n: number) => Array.from({ length: n }, (_, i) => tried(NO_SCRUB, { trainee: `T${i}` }));
    expect(hardestSteps(people(LEAST_PEOPLE - 1), 'hand-washing', LEAST_PEOPLE)).toBeNull();
    expect(hardestSteps(people(LEAST_PEOPLE), 'hand-washing', LEAST_PEOPLE)).toHaveLength(1);
  });

  it('is ready by the stated rule', () => {
    const at = (...tries: [days: number, credited: boolean[]][]) =>
      readiness(
        tries.map(([days, credited]) => tried(credited, { startedAt: daysAgo(days) })),
        'hand-washing',
        NOW,
      );
    expect(at()).toEqual({ ready: false, why: 'not tried' });
    expect(at([3, NO_SCRUB], [2, GOOD])).toEqual({ ready: false, why: 'not steady' });
    expect(at([30, GOOD], [20, GOOD])).toEqual({ ready: false, why: 'long ago' });
    expect(at([20, NO_SCRUB], [3, GOOD], [2, GOOD])).toEqual({ ready: true });
  });
});
