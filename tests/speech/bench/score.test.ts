import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Assessment, Outcome } from '../../../app/marking/assessment.ts';
import type { Step } from '../../../app/skills/skill.ts';
import {
  expectedMarks,
  percentile,
  rates,
  scoreClocks,
  scoreCounts,
  scoreCredits,
  scoreNumbers,
  scoreOrder,
  scoreTimes,
} from './score.ts';
import type { PlacedLine } from '../place.ts';
import type { Spoken } from '../synthesize.ts';

function line(at: number, part: Partial<PlacedLine>): PlacedLine {
  return {
    say: '…',
    by: 'trainee',
    pause: 1,
    credits: [],
    either: [],
    counts: {},
    start: at,
    end: at + 1,
    ...part,
  };
}

function step(id: string, evidence: Step['evidence'] = { kind: 'said' }): Step {
  return { id, text: id, critical: id === 'scrub', plans: false, evidence };
}

const scrub = step('scrub', { kind: 'timed', atLeast: 20, grace: 0, start: ['a'], stop: ['b'] });
const minute = step('count', { kind: 'timed', atLeast: 60, grace: 1, start: ['a'], stop: ['b'] });
const bend = step('bend', { kind: 'counted', atLeast: 3, joint: 'knee', again: ['a'] });
const record = step('record', {
  kind: 'reading',
  unit: 'breaths',
  from: 4,
  to: 60,
  which: 'last',
  value: ['a'],
});

function truth(part: Partial<Spoken>): Spoken {
  return {
    samples: new Float32Array(0),
    lines: [],
    clocks: new Map(),
    counts: new Map(),
    readings: new Map(),
    ...part,
  };
}

function mark(id: string, outcome: Outcome, at = 0): Assessment['steps'][number] {
  const heard = outcome !== 'not heard';
  return {
    id,
    text: id,
    critical: id === 'scrub',
    outcome,
    at: heard ? at : null,
    evidence: heard ? { utterance: 0, text: id, start: at, end: at + 1, score: 1 } : null,
    manner: outcome === 'heard' ? 'done' : null,
    note: '',
  };
}

describe('expectedMarks', () => {
  it('credits what is said, and leaves open what fair listeners could disagree on', () => {
    const lines = [line(0, { credits: ['soap'], either: ['rinse'] })];
    expect(
      expectedMarks(
        ['soap', 'rinse', 'dry'].map((id) => step(id)),
        truth({ lines }),
      ),
    ).toEqual(
      new Map([
        ['soap', 'credit'],
        ['rinse', 'either'],
        ['dry', 'none'],
      ]),
    );
  });

  it.each([
    [scrub, 19.5, 'none'],
    [scrub, 20.5, 'credit'],
    [minute, 58, 'none'],
    [minute, 59.5, 'credit'],
  ])('asks a clock for its seconds, less its grace', (timed, seconds, expected) => {
    expect(expectedMarks([timed], truth({ clocks: new Map([[timed.id, seconds]]) })).get(timed.id)).toBe(
      expected,
    );
  });

  it('asks for all repetitions, and for a number where one must be read', () => {
    expect(expectedMarks([bend], truth({ counts: new Map([['bend', 2]]) })).get('bend')).toBe('none');
    expect(expectedMarks([bend], truth({ counts: new Map([['bend', 3]]) })).get('bend')).toBe('credit');
    const lines = [line(0, { credits: ['record'] })];
    expect(expectedMarks([record], truth({ lines })).get('record')).toBe('none');
    expect(expectedMarks([record], truth({ lines, readings: new Map([['record', 16]]) })).get('record')).toBe(
      'credit',
    );
  });

  it('leaves out what needs eyes', () => {
    expect(expectedMarks([step('look', { kind: 'eyes' })], truth({})).size).toBe(0);
  });
});

describe('scoreCredits', () => {
  const expected = new Map([
    ['soap', 'credit'],
    ['rinse', 'credit'],
    ['dry', 'either'],
    ['scrub', 'none'],
    ['nails', 'none'],
  ] as const);
  const lines = [line(10, { credits: ['soap'] }), line(20, { credits: ['rinse'] })];

  it('sorts marks into hits, misses and false credits', () => {
    const marks = [
      mark('soap', 'heard', 10),
      mark('rinse', 'unsure', 20),
      mark('dry', 'heard', 5),
      mark('scrub', 'out of order', 7),
      mark('nails', 'not heard'),
    ];
    const score = scoreCredits(marks, expected, lines);
    expect(score.hits).toEqual(['soap']);
    expect(score.missed).toEqual(['rinse']);
    expect(score.wrong).toEqual([{ step: 'scrub', critical: true, text: 'scrub', start: 7, end: 8 }]);
    expect(score.misplaced).toEqual([]);
  });

  it('calls a hit misplaced when its evidence is another line', () => {
    expect(scoreCredits([mark('soap', 'heard', 20)], expected, lines).misplaced).toEqual(['soap']);
    expect(scoreCredits([mark('soap', 'heard', 11.4)], expected, lines).misplaced).toEqual([]);
  });

  it('puts every scored step into exactly one heap', () => {
    const outcome = fc.constantFrom<Outcome>('heard', 'not heard', 'out of order', 'unsure');
    fc.assert(
      fc.property(
        fc.array(fc.tuple(outcome, fc.constantFrom('credit', 'none', 'either')), { maxLength: 12 }),
        (steps) => {
          const marks = steps.map(([o], i) => mark(`step-${i}`, o));
          const wanted = new Map(steps.map(([, e], i) => [`step-${i}`, e] as const));
          const { hits, missed, wrong } = scoreCredits(marks, wanted, []);
          expect(hits.length + missed.length).toBe(steps.filter(([, e]) => e === 'credit').length);
          expect(wrong.length).toBeLessThanOrEqual(steps.filter(([, e]) => e === 'none').length);
          expect(new Set([...hits, ...missed, ...wrong.map((w) => w.step)]).size).toBe(
            hits.length + missed.length + wrong.length,
          );
        },
      ),
    );
  });
});

describe('clocks, counts and numbers', () => {
  const clock = (seconds: number, met: boolean) => ({
    id: 'scrub',
    seconds,
    uncertainty: 0.1,
    required: 20,
    met,
  });

  it('compare a clock with its true time', () => {
    const said = truth({ clocks: new Map([['scrub', 19.5]]) });
    expect(scoreClocks([scrub], said, { clocks: [clock(20.2, true)] })).toEqual([
      { id: 'scrub', truth: 19.5, heard: 20.2, enough: false, met: true },
    ]);
    expect(scoreClocks([scrub], said, { clocks: [clock(0, false)] })[0]!.heard).toBeNull();
    expect(scoreClocks([scrub], truth({}), { clocks: [clock(3, false)] })).toEqual([]);
  });

  it('compare repetitions', () => {
    const counts = [{ id: 'bend', counted: 2, required: 3, met: false }];
    expect(scoreCounts(truth({ counts: new Map([['bend', 3]]) }), { counts })).toEqual([
      { id: 'bend', truth: 3, heard: 2 },
    ]);
  });

  it.each([
    [18, true, 'exact'],
    [80, true, 'wrong'],
    [80, false, 'asked'],
    [18, false, 'asked'],
  ] as const)('take %s (sure: %s) for eighteen as %s', (value, sure, verdict) => {
    const readings = [{ id: 'record', value, unit: 'breaths', at: 1, sure, rivals: [] }];
    const said = truth({ readings: new Map([['record', 18]]) });
    expect(scoreNumbers(said, { readings, steps: [mark('record', 'heard')] })[0]).toMatchObject({
      heard: value,
      verdict,
    });
  });

  it('tell a number that was asked for from one that went unheard', () => {
    const said = truth({ readings: new Map([['record', 18]]) });
    expect(scoreNumbers(said, { readings: [], steps: [mark('record', 'unsure')] })[0]!.verdict).toBe('asked');
    expect(scoreNumbers(said, { readings: [], steps: [mark('record', 'not heard')] })[0]!.verdict).toBe(
      'missed',
    );
  });
});

describe('scoreOrder', () => {
  it('counts a swap as found when either step is flagged, and only where both were credited', () => {
    const swapped: [string, string][] = [
      ['wet', 'soap'],
      ['rinse', 'dry'],
    ];
    const marks = [
      mark('wet', 'out of order'),
      mark('soap', 'heard'),
      mark('rinse', 'heard'),
      mark('dry', 'not heard'),
      mark('nails', 'out of order'),
    ];
    expect(scoreOrder(marks, swapped)).toEqual({ visible: 1, flagged: 1, wrong: ['nails'] });
  });
});

describe('scoreTimes', () => {
  it('compares the words at a line’s edges, where they were heard rightly', () => {
    const at = (text: string, start: number, end: number) => ({ text, start, end, uncertainty: 0 });
    const lines = [line(1, { say: 'I wet my hands.', end: 3 }), line(5, { say: 'Now soap.' })];
    const words = [
      at('I', 1.1, 1.2),
      at('wet', 1.2, 2),
      at('hands', 2, 2.9),
      at('No', 5, 5.5),
      at('soap', 5.5, 9),
    ];
    const { starts, ends } = scoreTimes(lines, [{ words }]);
    expect(starts).toEqual([expect.closeTo(0.1)]);
    expect(ends).toEqual([expect.closeTo(-0.1)]);
  });
});

describe('rates and percentile', () => {
  it('are the textbook’s', () => {
    expect(rates(8, 2, 0)).toEqual({ precision: 1, recall: 0.8, f1: 16 / 18 });
    expect(percentile([5, 1, 4, 2, 3], 0.5)).toBe(3);
    expect(percentile([5, 1, 4, 2, 3], 0.95)).toBe(5);
    expect(percentile([], 0.5)).toBeNaN();
  });

  it('keep F1 between precision and recall', () => {
    const n = fc.integer({ min: 0, max: 50 });
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 50 }), n, n, (hits, missed, wrong) => {
        const { precision, recall, f1 } = rates(hits, missed, wrong);
        expect(f1).toBeGreaterThanOrEqual(Math.min(precision, recall) - 1e-12);
        expect(f1).toBeLessThanOrEqual(Math.max(precision, recall) + 1e-12);
      }),
    );
  });

  it('take a percentile from the values themselves', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer(), { minLength: 1 }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (values, share) => {
          const found = percentile(values, share);
          expect(values).toContain(found);
          expect(values.filter((v) => v <= found).length).toBeGreaterThanOrEqual(share * values.length);
        },
      ),
    );
  });
});
