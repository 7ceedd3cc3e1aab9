import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../../app/library/library.ts';
import { makeChecklist, type Checklist } from '../../../app/skills/checklist.ts';
import { mannerPolicy } from '../../../app/skills/manner.ts';
import type { Rules } from '../../../app/skills/skill.ts';
import { HABITS, habitOf } from '../../../app/run/talk.ts';
import { narrate, shipped } from '../making/narrate.ts';

/** How trainees speak while they act. Common practice, no source: tests/speech/narrations/LABELS.md. */

const library = await openLibrary();
const lever = shipped('hand-washing');
const breaths = shipped('respirations');
const belt = shipped('ambulation-gait-belt');

const under = (skill: string, rules: Partial<Rules>): Checklist =>
  makeChecklist(library.skills.get(skill)!, library.lexicon, { ...library.rules, ...rules });
const mark = (checklist: Checklist, lines: readonly (string | number)[], id: string) =>
  narrate(checklist, lines).marks.steps.find((step) => step.id === id)!;

describe('a step said as it begins', () => {
  it.each([
    ['sleeves', "I'm gonna push these sleeves up out of the way."],
    ['wet', "So I'll go ahead and wet both hands and my wrists."],
    ['soap', 'Let me grab some soap.'],
    ['soap', 'Let us take some soap.'],
    ['nails', "Next I'm going to clean under my nails."],
    ['nails', 'Now I will clean under my nails.'],
    ['nails', 'Then I am about to clean under my nails.'],
    ['rinse', "I'm going to rinse from the wrists down to the fingertips."],
  ])('counts: %s, "%s"', (step, line) => {
    expect(mark(lever, [line], step)).toMatchObject({ outcome: 'heard' });
  });

  it('says in its mark that it was said as it began', () => {
    expect(mark(lever, ["I'm going to clean under my nails."], 'nails').manner).toBe('begun');
    expect(
      mark(lever, ["I'm going to clean under my nails.", 'I clean under my nails.'], 'nails').manner,
    ).toBe('done');
  });
});

describe('a step that is told', () => {
  it('counts as told, not done, where it is ordinary', () => {
    const told = mark(breaths, ['Here I would close the curtain.'], 'privacy');
    expect(told).toMatchObject({ outcome: 'heard', manner: 'told', note: 'Told, not done.' });
  });

  it('is asked about where it is critical', () => {
    const line = 'I would lock the wheels of the bed.';
    expect(mark(belt, [line], 'brakes-on')).toMatchObject({ outcome: 'unsure', manner: null });
    expect(mark(belt, [line, 'I lock the wheels.'], 'brakes-on').outcome).toBe('heard');
  });

  it('is no time, no repetition and no number, whatever the rules say', () => {
    const would = { ordinary: 'counts', critical: 'counts' } as const;
    const scrub = narrate(under('hand-washing', { would }), [
      'Here I would scrub all surfaces of my hands.',
      25,
      'I rinse.',
    ]);
    expect(scrub.marks.clocks[0]).toMatchObject({ seconds: 0, met: false });
    const written = narrate(under('respirations', { would }), ['I would write down 16 respirations.']);
    expect(written.state.readings).toEqual({});
    const bent = narrate(under('range-of-motion-leg', { would }), [
      'I would bend and straighten the knee three times.',
    ]);
    expect(bent.marks.counts.map((c) => c.counted)).toEqual([0, 0, 0, 0]);
  });
});

describe('the rules', () => {
  const begun = "I'm going to close the curtain.";
  const told = 'I would close the curtain.';
  it.each([
    ['counts', 'heard'],
    ['asks', 'unsure'],
    ['no', 'not heard'],
  ] as const)('that say "%s" make it %s', (taken, outcome) => {
    const rule = { ordinary: taken, critical: taken };
    expect(mark(under('respirations', { nearFuture: rule }), [begun], 'privacy').outcome).toBe(outcome);
    expect(mark(under('respirations', { would: rule }), [told], 'privacy').outcome).toBe(outcome);
  });

  it('are told in two sentences', () => {
    expect(mannerPolicy(library.rules)).toBe(
      'A step said as you begin it (“I’m going to…”) counts. What you say you would do (“here I would…”) counts as told, not done, and is asked about for a critical step.',
    );
    const no = { ordinary: 'no', critical: 'no' } as const;
    expect(mannerPolicy({ nearFuture: no, would: no })).toMatch(
      /“I’m going to…”\) does not count\. .* does not count\.$/,
    );
  });

  it('leave an explanation its near future', () => {
    const strict = under('respirations', { nearFuture: { ordinary: 'no', critical: 'no' } });
    expect(mark(strict, ["I'm going to explain what I am doing."], 'explain').outcome).toBe('heard');
  });
});

describe('clocks', () => {
  const START = "I'm going to scrub all surfaces of my hands with friction now.";
  const STOP = 'I rinse from the wrists down to the fingertips.';
  const seconds = (lines: readonly (string | number)[]): number =>
    narrate(lever, ['I take some soap.', ...lines]).marks.clocks[0]!.seconds;

  it('start at the end of what announces them, and later where it is said again as done', () => {
    expect(seconds([START, 20, STOP])).toBeCloseTo(20, 6);
    expect(seconds([START, 5, 'I am scrubbing all surfaces.', 20, STOP])).toBeCloseTo(20, 6);
    // A part of it shows that it had begun.
    expect(
      seconds([START, 5, 'I rub between my fingers.', 5, 'I am scrubbing all surfaces.', 5, STOP]),
    ).toBeGreaterThan(15);
  });

  it('stop at the beginning of what announces their end, and not at what puts it off', () => {
    const run = ['I scrub all surfaces of my hands with friction.', 10];
    expect(
      seconds([...run, "I'm going to rinse from the wrists down to the fingertips.", 30, STOP]),
    ).toBeCloseTo(10, 6);
    expect(
      seconds([...run, "In a minute I'm going to rinse from the wrists to the fingertips.", 10, STOP]),
    ).toBeGreaterThan(20);
  });

  it('do not start early where the commas of a long start are lost', () => {
    const listed =
      'Okay I am scrubbing all surfaces with friction palms backs between my fingers thumbs and round my wrists.';
    expect(seconds([listed, 18.7, STOP])).toBeLessThanOrEqual(18.7 + 1e-6);
  });

  const MORE = [
    'palms',
    'backs',
    'between my fingers',
    'and my wrists',
    'round and round',
    'with the suds',
    'as I was shown',
    'nice and firm',
    'for twenty seconds',
  ];
  const WAYS = [
    'I am scrubbing all surfaces of my hands with friction',
    "I'm going to scrub all surfaces of my hands with friction",
    "I'll scrub all surfaces of my hands with friction now",
    'let me scrub all surfaces of my hands with friction',
    'scrubbing all surfaces of my hands with friction',
  ];
  it('are never longer for more text in the breath of a start, or another way of saying it', () => {
    const more = fc.array(fc.tuple(fc.constantFrom(...MORE), fc.constantFrom(' ', ', ', '. ')), {
      maxLength: 5,
    });
    fc.assert(
      fc.property(fc.constantFrom(...WAYS), more, fc.integer({ min: 5, max: 40 }), (way, parts, gap) => {
        const tail = parts.map(([text, joint]) => `${joint}${text}`).join('');
        // Counted from the end of the shortest true saying: the start's own words.
        const plain = narrate(lever, ['I take some soap.', `${way}.`, gap, STOP]).marks.clocks[0]!.seconds;
        const longer = narrate(lever, ['I take some soap.', `${way}${tail}.`, gap, STOP]).marks.clocks[0]!
          .seconds;
        const extra = tail.split(/\s+/).filter(Boolean).length * 0.35;
        expect(plain).toBeLessThanOrEqual(gap + 1e-6);
        expect(longer).toBeLessThanOrEqual(gap + extra + 1e-6);
        // Where no full stop parts them, the whole breath is the start.
        if (!tail.includes('.')) expect(longer).toBeLessThanOrEqual(gap + 1e-6);
      }),
      { numRuns: 150 },
    );
  });

  it.each([17, 18, 19, 19.5])(
    'pass no scrub of %d s in any way of saying it, with commas or without',
    (gap) => {
      for (const way of WAYS)
        for (const text of [
          `${way}, palms, backs, thumbs.`,
          `${way} palms backs thumbs.`,
          `${way}. Palms.`,
        ]) {
          const trailing = text.endsWith('. Palms.') ? 0.35 : 0;
          const { marks } = narrate(lever, ['I take some soap.', text, gap - trailing, STOP]);
          expect(marks.clocks[0]!.met, text).toBe(false);
        }
    },
  );
});

describe('repetitions', () => {
  const support = 'I am supporting the leg under the knee and at the ankle.';
  const leg = shipped('range-of-motion-leg');
  it('are not those announced', () => {
    const lines = [support, "I'm going to straighten the knee three times.", 5];
    expect(narrate(leg, lines).marks.counts.map((c) => c.counted)).toEqual([0, 0, 0, 0]);
    const counted = narrate(leg, [...lines, 'One.', 'Two.', 'Three.']);
    expect(counted.outcomes['straighten-knee']).toBe('heard');
  });
});

describe('talk beside the care', () => {
  it.each([
    'That one is timed.',
    'Nobody marks you on the towel.',
    'They watch for the wrists, so scrub the wrists.',
    "You're supposed to dry from the fingertips up.",
    'This is the part everybody forgets.',
    'Normally you would clean under your nails.',
  ])('credits nothing: %s', (line) => {
    expect(narrate(lever, [line]).state.credits).toEqual({});
  });

  it("is not spoilt by a resident's answers", () => {
    const { outcomes } = narrate(breaths, [
      "I'm going to close the curtain.", 0.5, 'No, not yet, leave it.', 'What is your full name?', 0.5, 'Never you mind.',
    ]); // prettier-ignore
    expect(outcomes).toMatchObject({ privacy: 'heard', 'ask-name': 'heard' });
  });
});

describe('an explanation', () => {
  it('credits nothing of what it explains, and what is announced after it is begun', () => {
    const line = "I'm going to explain, I'll count your breathing and then I'll close the curtain.";
    const explained = narrate(breaths, [line]);
    expect(Object.keys(explained.state.credits)).toEqual(['explain']);
    expect(narrate(breaths, [line, "I'm going to close the curtain."]).outcomes['privacy']).toBe('heard');
  });
});

describe('a habit', () => {
  const said = (manner: 'done' | 'begun' | 'told', n: number) =>
    Array.from({ length: n }, (_, i) => ({
      id: String(i), text: '', critical: false, outcome: 'heard' as const, at: 0, evidence: null, note: '', manner,
    })); // prettier-ignore
  it('is told of where most steps were announced or told', () => {
    expect(habitOf([...said('begun', 6), ...said('done', 3)])).toBe('begun');
    expect(habitOf([...said('told', 5), ...said('begun', 1), ...said('done', 3)])).toBe('told');
    expect(habitOf([...said('begun', 4), ...said('done', 4)])).toBeNull();
    expect(habitOf(said('begun', 3))).toBeNull();
    expect(HABITS.begun).toMatch(/not a fault/);
  });
});
