import { describe, expect, it } from 'vitest';
import { AssessmentSchema } from '../../app/marking/assessment.ts';
import { interpret } from '../../app/interpreting/interpret.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { BEFORE, fold, type State } from '../../app/marking/state.ts';
import { narrate, shipped, utterance } from './making/narrate.ts';

const lever = shipped('hand-washing');
const pedal = shipped('hand-washing', { tap: 'pedal' });
const leg = shipped('range-of-motion-leg');
const breaths = shipped('respirations');

const START = 'I am scrubbing all surfaces of my hands with friction.';
const STOP = 'Now I am rinsing from the wrists down to the fingertips.';

const wash = (scrub: (string | number)[]): (string | number)[] => [
  'Good morning, my name is Dana and I am your nurse aide today.',
  'Could you tell me your full name please?',
  'I am checking that against your wristband.',
  'I push my sleeves up and my watch too.',
  'I keep clear of the inside of the sink.',
  'I turn the water on and it is nice and warm.',
  'I am wetting my hands and wrists with my fingertips pointing down.',
  'Getting some soap.',
  'Working up a lather away from the running water.',
  ...scrub,
  'Drying with a clean paper towel from the fingertips up.',
  'I throw the towel in the bin.',
  'With a clean dry towel I turn off the faucet.',
];
const full = wash([
  START, 22, 'That is twenty seconds.', 'Rubbing between the fingers and round my wrists.',
  'Cleaning under my nails.', STOP,
]); // prettier-ignore

describe('hand washing', () => {
  it('marks a complete narration as passed, with needs-eyes steps left to the instructor', () => {
    const { marks, outcomes } = narrate(lever, full);
    expect(outcomes['no-contact']).toBe('needs eyes');
    expect(
      new Set(
        Object.entries(outcomes)
          .filter(([id]) => id !== 'no-contact')
          .map(([, o]) => o),
      ),
    ).toEqual(new Set(['heard']));
    expect(marks.result).toEqual({ passed: true, heard: 18, of: 18, criticalMissed: [] });
  });

  it('asks for the paper towel with a lever and for the pedal with a pedal', () => {
    expect(narrate(lever, full).outcomes).not.toHaveProperty('pedal-off');
    const { outcomes } = narrate(pedal, [...full, 'I let go of the pedal, no hands on the tap.']);
    expect(outcomes).not.toHaveProperty('tap-off');
    expect(outcomes['pedal-off']).toBe('heard');
  });

  it.each([
    [18, 'not heard'],
    [19, 'not heard'],
    [19.5, 'not heard'],
    [20.5, 'heard'],
    [25, 'heard'],
  ])('a scrub of %d s is %s', (seconds, outcome) => {
    const { marks, outcomes } = narrate(lever, wash([START, seconds, STOP]));
    expect(outcomes['scrub']).toBe(outcome);
    expect(marks.clocks[0]!.seconds).toBeCloseTo(seconds, 6);
    expect(marks.result.criticalMissed).toEqual(outcome === 'heard' ? [] : ['scrub']);
  });

  it('leaves out the time under the nails', () => {
    const { marks } = narrate(
      lever,
      wash([START, 12, 'Cleaning under my nails.', 10, 'Back to scrubbing.', 9, STOP]),
    );
    expect(marks.clocks[0]!.seconds).toBeCloseTo(21, 6);
    expect(marks.clocks[0]!.met).toBe(true);
    const short = narrate(lever, wash([START, 12, 'Cleaning under my nails.', 15, STOP]));
    expect(short.marks.clocks[0]).toMatchObject({ seconds: 12, met: false });
  });

  it('goes on with the scrub after the nails', () => {
    const lines = [
      START,
      12,
      'Cleaning under my nails.',
      5,
      'Nails are finished. I go back to scrubbing.',
      9,
      STOP,
    ];
    expect(narrate(lever, wash(lines)).marks.clocks[0]!.seconds).toBeCloseTo(21, 6);
  });

  it('leaves the scrub unsure when it is never heard to stop', () => {
    const { outcomes, marks } = narrate(lever, [START, 30]);
    expect(outcomes['scrub']).toBe('unsure');
    expect(marks.result.criticalMissed).toContain('scrub');
  });

  it('lets talk that is no step run on beside the clock, and any other step end it', () => {
    const talk = wash([START, 10, 'I always hum a little song here.', 11, STOP]);
    expect(narrate(lever, talk).outcomes['scrub']).toBe('heard');
    const turned = wash([START, 10, 'I throw the towel in the bin.', 11, STOP]);
    expect(narrate(lever, turned).outcomes['scrub']).toBe('not heard');
  });

  it('does not pass a scrub during which something unclear was said that may have ended it', () => {
    const heard = (state: State, text: string, at: number, confidence: number): State => {
      const said = { ...utterance(text, at, state.utterances.length), confidence };
      return interpret(lever, state, said).reduce(fold, state);
    };
    const state = heard(heard(BEFORE, START, 0, 0.9), 'That is messed up and gone.', 15, 0.7);
    const outcome = (said: State): string | undefined =>
      markRehearsal(lever, heard(said, STOP, 40, 0.9)).steps.find((s) => s.id === 'scrub')?.outcome;
    expect(outcome(state)).toBe('unsure');
    // A part of the scrub said afterwards shows that it went on.
    expect(outcome(heard(state, 'I rub between my fingers.', 20, 0.9))).toBe('heard');
  });

  it('does not pass a scrub during which a misheard word may have ended it, however clear the rest', () => {
    const garbled = (confidence: number): string | undefined => {
      const said = utterance('Time to rent it over there.', 15, 1);
      const words = said.words.map((w) => ({ ...w, confidence: w.text === 'rent' ? confidence : 0.95 }));
      const lines = [utterance(START, 0, 0), { ...said, words }, utterance(STOP, 40, 2)];
      const state = lines.reduce((s, u) => interpret(lever, s, u).reduce(fold, s), BEFORE);
      return markRehearsal(lever, state).steps.find((s) => s.id === 'scrub')?.outcome;
    };
    expect(garbled(0.9)).toBe('heard');
    expect(garbled(0.1)).toBe('unsure');
  });

  it('does not time a part of the scrub that is named before the soap or after the rinse', () => {
    const early = [
      'Wetting both hands, and my wrists, all the way round.',
      25,
      'Getting some soap.',
      START,
      10,
      STOP,
    ];
    const late = [
      START,
      10,
      STOP,
      'Drying from the fingertips up. I rub round my wrists.',
      30,
      'Towel in the bin.',
    ];
    for (const lines of [early, late])
      expect(narrate(lever, lines).marks.clocks[0]).toMatchObject({ met: false });
  });

  it('stops the scrub at a rinse whose direction was not heard', () => {
    const { marks } = narrate(
      lever,
      wash([START, 18, 'And I rinse the soap off at the risk of my finger.', 10, STOP]),
    );
    expect(marks.clocks[0]!.met).toBe(false);
  });

  it('hears no other step in the shadow of one', () => {
    const { marks } = narrate(
      lever,
      wash([
        START,
        8,
        'My fingers are laced together, cleaning in between.',
        8,
        'This wrist and the other wrist I wash.',
        8,
        STOP,
      ]),
    );
    expect(marks.clocks[0]!.met).toBe(true);
  });

  it('does not let what is put off stop the clock', () => {
    const { marks } = narrate(
      lever,
      wash([START, 12, 'In a minute I will rinse from the wrists to the fingertips.', 10, STOP]),
    );
    expect(marks.clocks[0]!.met).toBe(true);
  });

  it('flags a step out of order and names the other step', () => {
    const swapped = [...full];
    const soap = swapped.indexOf('Getting some soap.');
    [swapped[soap - 1], swapped[soap]] = [swapped[soap]!, swapped[soap - 1]!];
    const { marks, outcomes } = narrate(lever, swapped);
    expect(outcomes['wet']).toBe('out of order');
    expect(marks.steps.find((s) => s.id === 'wet')!.note).toBe('It should precede "Take soap".');
    expect(outcomes['soap']).toBe('heard');
  });

  it('joins a saying that a pause cut in two', () => {
    const { outcomes } = narrate(lever, [
      'I am drying with a paper towel',
      0.9,
      'from the fingertips up to the wrists.',
    ]);
    expect(outcomes['dry']).toBe('heard');
    const apart = narrate(lever, ['I forgot to', 0.9, 'clean under my nails.']);
    expect(apart.outcomes['nails']).toBe('not heard');
  });

  it('never passes a critical step on sound-alikes alone', () => {
    const { outcomes } = narrate(lever, ['I am rincing from the rists down to the fingatips.']);
    expect(outcomes['rinse']).not.toBe('heard');
  });

  it('asks instead of crediting when the sound was unclear', () => {
    const unclear = { ...utterance('Getting some soap.'), confidence: 0.2 };
    const state = interpret(lever, BEFORE, unclear).reduce(fold, BEFORE);
    expect(markRehearsal(lever, state).steps.find((s) => s.id === 'soap')!.outcome).toBe('unsure');
  });
});

describe('the scrub', () => {
  const movesOf = (line: string): string[] =>
    narrate(lever, ['I take some soap.', START, 5, line]).events.flatMap((e) =>
      e.type === 'clock' && e.move !== 'start' ? [e.move] : [],
    );

  it.each([
    ['The scrub is over.', ['stop']],
    ['Stopping for the fingernails, I scratch them in my palm.', ['halt']],
    ['And the wrists get a good rub.', []],
    ['I scrub now, all over my hands, lots of friction.', []],
  ])('"%s" makes the moves %j', (line, moves) => {
    expect(movesOf(line)).toEqual(moves);
  });
});

it('takes no doubt away from a scrub by what is itself unclear', () => {
  const unclear = (text: string, at: number, id: number) => ({
    ...utterance(text, at, id),
    confidence: 0.54,
  });
  const said = (third: typeof unclear) =>
    [
      utterance('I take some soap.', 0, 0),
      utterance(START, 4, 1),
      unclear('The whole thing is messed up and done.', 20, 2),
      third('I draw it straight between my fingers.', 35, 3),
      utterance(STOP, 40, 4),
    ].reduce((state, u) => interpret(lever, state, u).reduce(fold, state), BEFORE);
  const met = (state: State): boolean => markRehearsal(lever, state).clocks[0]!.met;
  expect(met(said(unclear))).toBe(false);
  expect(met(said(utterance))).toBe(true);
});

describe('range of motion', () => {
  const support = 'I am supporting the leg under the knee and at the ankle.';
  const count = (lines: (string | number)[]): Record<string, number> =>
    Object.fromEntries(narrate(leg, [support, ...lines]).marks.counts.map((c) => [c.id, c.counted]));

  it.each<[string, string[], number, number]>([
    ['movements named', ['I bend the knee and straighten the knee.', 'I bend the knee, I straighten the knee.', 'Bend the knee and straighten the knee.'], 3, 3],
    ['a number after each pair', ['I bend the knee and straighten it.', 'One.', 'Bend, straighten, two.', 'Bend, straighten, three.'], 3, 3],
    ["that's two, again", ['I bend the knee and straighten it.', 'One.', "Bend and straighten, that's two.", 'And again.'], 3, 3],
    ['each way on its own', ['Bending the knee. One, two, three.', 'Straightening the knee. One, two.'], 3, 2],
    ['two of three', ['I bend the knee and straighten it, one.', 'Bend, straighten, two.'], 2, 2],
    ['an announcement first', ['I am bending the knee now.', 'Bend, one.', 'Bend, two.'], 2, 0],
    ['a number that is no count', ['I bend the knee.', 'I have one pillow here.', 'Three minutes left.'], 1, 0],
    ['a lost number', ['I bend the knee and straighten it.', 'One.', 'Bend, straighten.', 'Bend, straighten, three.'], 3, 3],
    ['ordinals', ['Knee I bend and straighten, one time.', 'Second time I bend and straighten.', 'The third.', 'Use the second hand.'], 3, 3],
    ['numbers that sound like other words', ['I bend the knee and straighten it, one.', 'Bend, straighten, too.', 'Bend and straighten free.'], 3, 3],
    ['such words between movements', ['I bend the knee and straighten it, one.', 'Bend to and straighten to.', 'Bend free and straighten free.'], 3, 3],
    ['an ordinal after a lost number', ['I bend the knee and straighten it, one.', 'Third bend of the knee, and the third straighten.'], 3, 3],
    ['a second that is a time', ['I bend the knee and straighten it, one.', 'Hold it a second.'], 1, 1],
    ['again beside the movement', ['So we bend the knee again, and we straighten the knee again.', 'Bend the knee again.'], 2, 1],
    ['again beside a numbered movement', ['I bend the knee and straighten it, one.', 'Bend again and straighten again, two.', 'And again.'], 3, 3],
    ['a stray one', ['I bend the knee, I straighten the knee.', 'Bend the knee and straighten the knee.', 'Bend the knee and straighten the knee.', 'I was one, actually.'], 3, 3],
    ['a first', ['I bend the knee and straighten it, our first.', 'Bend and straighten, our second.', 'Bend, straighten, our third.'], 3, 3],
    ['a last time', ['I bend the knee and straighten it, one.', 'Two.', 'Last time, bend and straighten, three.'], 3, 3],
    ['a total announced', ['I bend the knee and straighten it, one.', 'Bend three times.'], 1, 1],
    ['other words that sound like numbers', ['I bend the knee and straighten it, one.', 'The other hand too.', 'I am here for you.'], 1, 1],
    ['no blanket', ['I straighten the blanket over your leg.'], 0, 0],
    ['a plan', ['I will bend and straighten the knee three times.'], 0, 0],
  ])('counts %s', (_name, lines, bent, straight) => {
    const counted = count(lines);
    expect([counted['bend-knee'], counted['straighten-knee']]).toEqual([bent, straight]);
  }); // prettier-ignore

  it('counts the joints apart', () => {
    const counted = count([
      'I bend the knee and straighten the knee.', 'One.', 'Two.', 'Three.',
      'One hand under your heel and one on your foot.',
      'I bring the foot up towards the shin and point the toes down.', 'One.', 'Two.',
    ]); // prettier-ignore
    expect(counted).toEqual({ 'bend-knee': 3, 'straighten-knee': 3, 'foot-up': 2, 'foot-down': 2 });
  });

  it('counts a movement named twice in one breath once', () => {
    const counted = count([
      'One hand under your heel and one on your foot.',
      'Foot up toward the shin.', 'Down we point it.', 'Foot up.', 'Down we point it away.',
    ]); // prettier-ignore
    expect(counted).toMatchObject({ 'foot-up': 2, 'foot-down': 2 });
  });

  it('credits the same saying at the beginning and at the end to different steps', () => {
    const { outcomes } = narrate(leg, [
      'I wash my hands.',
      support,
      'I bend the knee.',
      'Toes up. Point the toes down.',
      'I wash my hands.',
    ]);
    expect(outcomes['hands-before']).toBe('heard');
    expect(outcomes['hands-after']).toBe('heard');
    expect(
      narrate(leg, [support, 'Toes up. Point the toes down.', 'I wash my hands.']).outcomes,
    ).toMatchObject({
      'hands-before': 'not heard',
      'hands-after': 'heard',
    });
  });
});

describe('respirations', () => {
  const minute = (seconds: number): (string | number)[] => [
    'Starting now.',
    seconds,
    'Done, that is one full minute.',
  ];

  it.each([
    [45, false],
    [58, false],
    [60.5, true],
    [62, true],
  ])('a count of %d s: met %s', (seconds, met) => {
    expect(narrate(breaths, minute(seconds)).marks.clocks[0]!.met).toBe(met);
  });

  it('reads the number, and asks when the sound fits another as well', () => {
    const line = utterance('I am writing down 16 respirations.', 100);
    const read = (share: number) => {
      const rivals = share < 0.9 ? [{ value: 60, share: 1 - share }] : [];
      const heard = { ...line, numbers: [{ value: 16, share, from: 4, to: 5, rivals }] };
      return markRehearsal(breaths, interpret(breaths, BEFORE, heard).reduce(fold, BEFORE));
    };
    expect(read(0.98).readings[0]).toMatchObject({ value: 16, sure: true });
    const asked = read(0.6);
    expect(asked.readings[0]).toMatchObject({ value: 16, sure: false, rivals: [60] });
    expect(asked.steps.find((s) => s.id === 'record')!.outcome).toBe('unsure');
  });

  it('asks about a number that stands right beside another: "one eight, eighteen" may be heard as "1, 8, 80"', () => {
    const sure = (value: number, from: number) => ({ value, share: 0.99, from, to: from + 1, rivals: [] });
    const line = utterance('I am writing down respirations 1, 8, 80 per minute.', 100);
    const heard = { ...line, numbers: [sure(1, 5), sure(8, 6), sure(80, 7)] };
    const marks = markRehearsal(breaths, interpret(breaths, BEFORE, heard).reduce(fold, BEFORE));
    expect(marks.steps.find((s) => s.id === 'record')!.outcome).toBe('unsure');
  });

  it('believes a number whose digits are said before it', () => {
    const sure = (value: number, from: number) => ({ value, share: 0.99, from, to: from + 1, rivals: [] });
    const line = utterance('I am writing down respirations 1, 8, 18 per minute.', 100);
    const heard = { ...line, numbers: [sure(1, 5), sure(8, 6), sure(18, 7)] };
    const marks = markRehearsal(breaths, interpret(breaths, BEFORE, heard).reduce(fold, BEFORE));
    expect(marks.readings[0]).toMatchObject({ value: 18, sure: true });
  });

  it('stops the count at the first of two sayings, and does not start it again by the same words', () => {
    const { events } = narrate(breaths, [
      'Starting to count now.',
      62,
      "That's the minute, I am finished counting.",
    ]);
    const moves = events.flatMap((e) => (e.type === 'clock' ? [`${e.move} ${e.evidence.text}`] : []));
    expect(moves[1]).toMatch(/^stop .*minute/);
    expect(moves.filter((m) => m.startsWith('start'))).toHaveLength(1);
  });

  it('takes no number for a reading where counting only begins', () => {
    const { marks } = narrate(breaths, [
      'The second hand is at the twelve, starting to count now.',
      62,
      'That is a full minute.',
    ]);
    expect(marks.readings).toEqual([]);
    expect(marks.clocks[0]!.met).toBe(true);
  });

  it('wants the hands washed before the number is written down', () => {
    const { outcomes } = narrate(breaths, [
      'I am writing down 16 respirations.',
      'Now I wash my hands.',
      ...minute(61),
    ]);
    expect(outcomes['record']).not.toBe('heard');
  });
});

describe('replay', () => {
  it('gives the same state from the same events, and the same events from the same utterances', () => {
    const first = narrate(lever, full);
    expect(first.events.reduce(fold, BEFORE)).toEqual(first.state);
    expect(narrate(lever, full).events).toEqual(first.events);
    expect(JSON.parse(JSON.stringify(first.events)).reduce(fold, BEFORE)).toEqual(first.state);
  });

  it('marks in the shape of the document', () => {
    const { marks } = narrate(lever, full);
    const steps = AssessmentSchema.shape.steps.safeParse(marks.steps);
    expect(steps.error).toBeUndefined();
    expect(AssessmentSchema.shape.result.safeParse(marks.result).success).toBe(true);
  });
});
