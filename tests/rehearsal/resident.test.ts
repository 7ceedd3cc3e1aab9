import { readdirSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { z } from 'zod';
import { armOf, pressureAt, cuffTrace } from '../../app/bench/pressure.ts';
import { instrumentsOf } from '../../app/bench/resident/instruments.ts';
import { asksIn, BENCH_PHRASES } from '../../app/bench/resident/sayings.ts';
import { BEAMS, loadFrom } from '../../app/bench/scale.ts';
import { filledFrom, toNearestMark } from '../../app/bench/container.ts';
import { hearAgain } from '../../app/authoring/remark.ts';
import { interpret } from '../../app/interpreting/interpret.ts';
import { findCommand } from '../../app/language/commands.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { fold, BEFORE } from '../../app/marking/state.ts';
import { lookBackOn, truthOf } from '../../app/marking/simulated.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { sideBySide } from '../../app/review/sideBySide.ts';
import { reviewOf } from '../../app/review/review.ts';
import { attend } from '../../app/run/attend.ts';
import { markTest } from '../../app/run/mockTest.ts';
import type { Run } from '../../app/run/run.ts';
import { practiceOf } from '../../app/run/testPlan.ts';
import { MEASURES, type Measure } from '../../app/skills/measure.ts';
import { rowsOf } from '../../renderer/room/roomView.ts';
import { shipped, utterance } from './making/narrate.ts';
import { planFor } from './making/sit.ts';
import { kept, withResident } from './making/withResident.ts';

const SKILLS: Readonly<Record<Measure, string>> = {
  respirations: 'respirations',
  pulse: 'radial-pulse',
  pressure: 'blood-pressure',
  urine: 'urine-output',
  weight: 'standing-weight',
};
const SEED = 4711;

/** Numbers as they are said where this is about the truth, not about hearing them. */
const said = (value: number): string => String(value);

/** The truth that the end will have, known already to who knows the seed. */
const truthNow = (run: Run, now: number, which = 0): number => {
  const ended = fold(run.state, { type: 'ended', at: now });
  const readings = lookBackOn(run.checklist, ended)?.readings ?? [];
  return readings[which]?.truth ?? NaN;
};

beforeEach(() => vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval', 'setTimeout', 'Date'] }));
afterEach(() => vi.useRealTimers());

type Script = Parameters<typeof withResident>[2];

/** Counts for so many seconds and says the truth, off by so much. */
const breaths = (seconds: number, off: number): Script => [
  'I am ready.',
  'Let me help you into a comfortable position.',
  'I can see your chest rise and fall.',
  'Starting now.',
  seconds,
  'That is one full minute, done.',
  'Here is your call light, within reach.',
  'I wash my hands before I write it down.',
  (run, now) => `I write down ${said(truthNow(run, now) + off)} respirations.`,
];

const outcome = (marks: ReturnType<typeof markRehearsal>, step: string) =>
  marks.steps.find(({ id }) => id === step);

describe('respirations', () => {
  it.each([
    [0, 'heard'],
    [2, 'heard'],
    [-2, 'heard'],
    [5, 'not heard'],
    [-7, 'not heard'],
  ])('recorded %d from the truth are %s', async (off, expected) => {
    const { marks, state } = await withResident(
      practiceOf(shipped('respirations')),
      { seed: SEED },
      breaths(61.5, off),
    );
    // A start known to some hundredths of a second leaves the truth open only where a breath begins in them.
    const { least, most } = truthOf(shipped('respirations'), state, step('respirations', 'record')) as {
      least: number;
      most: number;
    };
    expect(outcome(marks, 'record')?.outcome).toBe(least === most ? expected : expect.any(String));
    expect(outcome(marks, 'record')?.note).toMatch(/the simulated resident had \d+/);
    expect(outcome(marks, 'count')?.outcome).toBe('heard');
    expect(marks.result.criticalMissed.includes('record')).toBe(expected !== 'heard');
  });

  it('tell a short count afterwards, and that the truth is of the whole minute', async () => {
    const { state, marks } = await withResident(
      practiceOf(shipped('respirations')),
      { seed: SEED },
      breaths(40, 0),
    );
    expect(outcome(marks, 'count')?.outcome).toBe('not heard');
    expect(lookBackOn(shipped('respirations'), state)?.remarks).toEqual(['stopped early']);
  });

  it('without a count leave the number unsure', async () => {
    const { marks } = await withResident(practiceOf(shipped('respirations')), { seed: SEED }, [
      'I am ready.',
      'I wash my hands before I write it down.',
      'I write down sixteen respirations.',
    ]);
    expect(outcome(marks, 'record')).toMatchObject({ outcome: 'unsure' });
  });
});

const step = (skill: string, id: string) => {
  const found = shipped(skill).steps.find((each) => each.id === id);
  if (!found) throw new Error(`No step ${id}.`);
  return found;
};

describe('the pulse', () => {
  const script = (hold: readonly string[]): Script => [
    'I am ready.',
    'I rest your arm on the table with the palm down.',
    ...hold,
    'I look at the second hand of my watch. Starting now.',
    59,
    'That is one full minute, I stop.',
    'I wash my hands before I write it down.',
    (run, now) => `I write down a pulse of ${said(truthNow(run, now))} beats a minute.`,
  ];
  it('is felt from "I have the pulse" on', async () => {
    const { state, events } = await withResident(
      practiceOf(shipped('radial-pulse')),
      { seed: SEED },
      script(['I have the pulse.']),
    );
    expect(events.filter(({ type }) => type === 'handled')).toMatchObject([
      { how: { do: 'fingers', on: true } },
    ]);
    expect(lookBackOn(shipped('radial-pulse'), state)?.remarks).toEqual([]);
    const [reading] = lookBackOn(shipped('radial-pulse'), state)?.readings ?? [];
    expect(reading?.comparison?.difference).toBe(0);
  });
  it('that was never held is told', async () => {
    const { state } = await withResident(practiceOf(shipped('radial-pulse')), { seed: SEED }, script([]));
    expect(lookBackOn(shipped('radial-pulse'), state)?.remarks).toContain('pulse not held');
  });
});

describe('blood pressure', () => {
  const pressure = (run: Run, now: number): number => {
    const { bench } = run.state;
    if (!bench) return 0;
    const at = now - bench.resident.at;
    return pressureAt(cuffTrace(instrumentsOf(bench.resident.at, bench.handled).cuff, at), at);
  };
  const { systolic, diastolic } = armOf(SEED, false);
  const script = (pump: readonly (string | number)[], rate: 'right' | 'too fast', off: number): Script => [
    'I am ready.',
    'Your arm is resting on the table at the level of your heart, palm up.',
    'I wrap the cuff snugly around the upper arm, just above the elbow.',
    'I place the diaphragm over the artery.',
    ...pump,
    'I let the air out slowly.',
    ...(rate === 'too fast' ? ['Faster.', 'Faster.', 'Faster.', 'Faster.'] : towards25),
    rate === 'too fast' ? 8 : (systolic + 40 - diastolic) / 2.5,
    'All the air out.',
    (run, now) => `The first sound is at ${said(truthNow(run, now, 0) + off)}.`,
    (run, now) => `The last sound is at ${said(truthNow(run, now, 1))}.`,
  ];
  /** Makes the valve's first opening 2.5 mmHg a second, whatever it was. */
  const towards25 = [...Array.from({ length: 5 }, () => 'Slower.'), 'Faster.', 'Faster.'];

  it('pumped by voice up to a number, let down rightly, is within the rules; the same said wrong is not', async () => {
    const plan = {
      ...practiceOf({ ...shipped('blood-pressure'), rules: planFor(['blood-pressure']).rules }),
    };
    for (const [off, expected] of [
      [0, 'heard'],
      [20, 'not heard'],
    ] as const) {
      const { marks, state } = await withResident(
        plan,
        { seed: SEED },
        script([`Pump it up to ${systolic + 34}.`, 20], 'right', off),
      );
      expect(outcome(marks, 'systolic')?.outcome).toBe(expected);
      expect(outcome(marks, 'diastolic')?.outcome).toBe('heard');
      const back = lookBackOn(plan.checklists[0] ?? shipped('blood-pressure'), state);
      expect(back?.cuff?.measured.peak).toBeGreaterThanOrEqual(systolic + 30);
      expect(back?.cuff?.measured.peak).toBeLessThan(systolic + 50);
      expect(back?.remarks.filter((remark) => remark !== 'too fast')).toEqual([]);
    }
  });

  it('pumps on until it is enough, and tells too fast a release', async () => {
    const { state } = await withResident(
      practiceOf(shipped('blood-pressure')),
      { seed: SEED },
      script(['I close the valve and pump up the cuff.', 14, 'High enough.'], 'too fast', 0),
    );
    const back = lookBackOn(shipped('blood-pressure'), state);
    expect(back?.remarks).toContain('too fast');
    expect(back?.cuff?.measured.peak).toBeGreaterThan(150);
    expect(back?.cuff?.measured.peak).toBeLessThan(300);
  });

  it('follows the asks: the needle falls after "let it down" and stands after "close the valve"', async () => {
    const seen: number[] = [];
    const look = (run: Run, now: number): string => {
      seen.push(pressure(run, now));
      return 'I am listening.';
    };
    await withResident(practiceOf(shipped('blood-pressure')), { seed: SEED }, [
      'I wrap the cuff snugly around the upper arm, just above the elbow.',
      'Pump it up to one sixty.', 20, look, 'Let it down.', 5, look, 'Close the valve.', look, 10, look,
    ]); // prettier-ignore
    const [top = 0, falling = 0, shut = 0, later = 0] = seen;
    expect(top).toBeGreaterThanOrEqual(160);
    expect(falling).toBeLessThan(top - 5);
    expect(shut).toBeLessThanOrEqual(falling);
    expect(later).toBe(shut);
  });
});

describe('what is read off', () => {
  it('is urine at eye level, or told', async () => {
    const script = (eye: readonly string[]): Script => [
      'I pour the urine from the urinal into the measuring container without spilling.',
      ...eye,
      'I wash my hands.',
      `I write down ${said(toNearestMark(filledFrom(SEED)))} millilitres of urine.`,
    ];
    const low = await withResident(
      practiceOf(shipped('urine-output')),
      { seed: SEED },
      script(['Eye level.']),
    );
    expect(lookBackOn(shipped('urine-output'), low.state)?.remarks).toEqual([]);
    expect(lookBackOn(shipped('urine-output'), low.state)?.readings[0]?.comparison?.difference).toBe(0);
    const high = await withResident(practiceOf(shipped('urine-output')), { seed: SEED }, script([]));
    expect(lookBackOn(shipped('urine-output'), high.state)?.remarks).toEqual(['read from above']);
  });

  it.each(['pounds', 'kilograms'] as const)('is a weight in %s, set and balanced by voice', async (unit) => {
    const checklist = shipped('standing-weight', { unit });
    const beam = BEAMS[unit];
    const { weight } = loadFrom(SEED, beam);
    const large = Math.floor(weight / beam.notch) * beam.notch;
    const small = Math.round((weight - large) * 100) / 100;
    const { state } = await withResident(practiceOf(checklist), { seed: SEED }, [
      'I set the scale to zero.',
      'I help you step up onto the scale.',
      `The large poise to ${said(large)}.`,
      `The small poise to ${said(small)}.`,
      'The bar is still, so I read the scale.',
      `I write down ${said(Math.round(weight * 100) / 100)} ${unit}.`,
    ]);
    const back = lookBackOn(checklist, state);
    expect(back?.remarks).toEqual([]);
    expect(back?.readings[0]?.comparison?.difference).toBeCloseTo(0, 6);
    expect(back?.readings[0]?.comparison?.unit).toBe(unit);
  });
});

describe('the truth', () => {
  it('comes out the same from the journal alone, and under another version of the skill', async () => {
    const checklist = shipped('respirations');
    const { events, state, marks } = await withResident(
      practiceOf(checklist),
      { kind: 'any' },
      breaths(61.5, 1),
    );
    const again = kept(events).reduce(fold, BEFORE);
    expect(again).toEqual(state);
    expect(markRehearsal(checklist, again)).toEqual(marks);
    expect(lookBackOn(checklist, again)).toEqual(lookBackOn(checklist, state));
    expect(lookBackOn(checklist, hearAgain(checklist, kept(events)))).toEqual(lookBackOn(checklist, state));
    const measure = sideBySide(checklist, again, reviewOf([], 0)).find(
      (row) => row.step === 'record',
    )?.measure;
    expect(measure?.truth).toBe(lookBackOn(checklist, state)?.readings[0]?.truth);
    expect(marks.readings[0]?.truth).toBe(measure?.truth);
  });

  it('is not known before the skill is over, whatever was said', async () => {
    const checklist = shipped('respirations');
    const { events } = await withResident(practiceOf(checklist), { seed: SEED }, breaths(61.5, 9));
    const before = events.filter(({ type }) => type !== 'ended').reduce(fold, BEFORE);
    expect(lookBackOn(checklist, before)).toBeNull();
    expect(rowsOf(checklist, before, null).find(({ id }) => id === 'record')?.state).toBe('heard');
    expect(JSON.stringify(markRehearsal(checklist, before))).not.toMatch(/resident had/);
  });

  it('is that of each skill in a mock test, met as the skill opens', async () => {
    const plan = planFor(['hand-washing', 'respirations', 'radial-pulse']);
    const { run, events } = await withResident(plan, { kind: 'ordinary' }, [
      'I am ready.',
      'Next skill.',
      ...breaths(61.5, 0).slice(1),
      'Next skill.',
      'I have the pulse.',
    ]);
    const met = events.filter((event) => event.type === 'met');
    expect(met.map(({ measure }) => measure)).toEqual(['respirations', 'pulse']);
    const result = markTest(plan.checklists, plan.rules, run.soFar);
    const [, second] = result.skills;
    expect(second?.readings[0]?.truth).toBeGreaterThan(0);
    expect(second?.steps.find(({ id }) => id === 'record')).toMatchObject({ outcome: 'heard' });
    const [, , third] = run.soFar.runs;
    expect(third?.state.bench?.resident.measure).toBe('pulse');
  });

  it('is the same for the same events, for any resident and start', () => {
    const checklist = shipped('respirations');
    fc.assert(
      fc.property(fc.nat(), fc.integer({ min: 0, max: 2000 }), (seed, from) => {
        const run = (): unknown => {
          const events = [
            { type: 'met', measure: 'respirations', seed, pattern: 'irregular', at: 3.21 },
            {
              type: 'clock',
              step: 'count',
              move: 'start',
              at: 5 + from / 7,
              uncertainty: 0.05,
              word: 1,
              evidence,
            },
            {
              type: 'clock',
              step: 'count',
              move: 'stop',
              at: 66 + from / 7,
              uncertainty: 0.05,
              word: 0,
              evidence,
            },
            { type: 'ended', at: 500 },
          ] as const;
          return lookBackOn(checklist, kept(events).reduce(fold, BEFORE));
        };
        expect(run()).toEqual(run());
      }),
      { numRuns: 30 },
    );
  });
  const evidence = { utterance: 0, text: '', start: 0, end: 1, score: 1 };
});

/** The narrations of a skill, wherever they lie: what the trainee says, line by line. */
async function narrationsOf(skill: string): Promise<string[][]> {
  const folders = ['skills/narrations', 'tests/speech/narrations'];
  const files = folders.flatMap((folder) =>
    readdirSync(folder).flatMap((name) =>
      name.startsWith(`${skill}-`) && name.endsWith('.yaml') ? [`${folder}/${name}`] : [],
    ),
  );
  return Promise.all(
    files.map(async (file) => {
      const { says, lines } = Lines.parse(parse(await readFile(file, 'utf8')));
      return [...says, ...lines.map(({ say }) => say)].filter((line) => typeof line === 'string');
    }),
  );
}

const Lines = z.object({
  says: z.array(z.union([z.string(), z.number()])).default([]),
  lines: z.array(z.object({ say: z.string() })).default([]),
});

describe.each(MEASURES)('sayings to the instruments of %s', (measure) => {
  const checklist = shipped(SKILLS[measure]);

  it('are no commands to the coach', () => {
    for (const phrase of BENCH_PHRASES[measure]) expect(findCommand(phrase), phrase).toBeNull();
  });

  it('credit no step but those that have to do with them', () => {
    for (const phrase of BENCH_PHRASES[measure]) {
      const events = interpret(checklist, BEFORE, utterance(phrase));
      const credited = events.flatMap((event) => (event.type === 'credited' ? [event.step] : []));
      const others = credited.filter((id) => step(SKILLS[measure], id).bench === undefined);
      expect(others, phrase).toEqual([]);
    }
  });

  it('are all understood, but where a number is to come', () => {
    const plain = BENCH_PHRASES[measure].filter((phrase) => !phrase.endsWith(' to'));
    expect(plain.filter((phrase) => asksIn(measure, phrase).length === 0)).toEqual([]);
  });

  it('take nothing away from any narration', async () => {
    const narrations = await narrationsOf(SKILLS[measure]);
    expect(narrations.length).toBeGreaterThan(2);
    const first = checklist.steps.find(({ bench }) => bench !== undefined);
    const credited = {
      step: first?.id ?? '',
      evidence: { utterance: 0, text: '', start: 1, end: 2, score: 1 },
    };
    const state = [
      { type: 'met', measure, seed: SEED, pattern: 'plain', at: 0 } as const,
      { type: 'credited', ...credited } as const,
    ].reduce(fold, BEFORE);
    // Only these could be taken: what is none of the sayings is narration.
    const like = narrations.flat().filter((line) => asksIn(measure, line).length > 0);
    const lost = like.flatMap((line, i) => {
      const heard = utterance(line, 10 * (i + 1), i);
      const isTaken = attend(checklist, state, heard).some((e) => e.type === 'aside' && e.why === 'bench');
      const without = interpret(checklist, state, heard).filter(isOfTheMarks);
      return isTaken ? without.map(({ type }) => `${line} (${type})`) : [];
    });
    expect(like.length).toBeLessThan(0.02 * narrations.flat().length);
    expect(lost).toEqual([]);
  });
});

/** Whether an event says something of a step's mark. */
const isOfTheMarks = ({ type }: RehearsalEvent): boolean => !['heard', 'noted', 'doubted'].includes(type);
