import { describe, expect, it } from 'vitest';
import { narrate, shipped } from '../making/narrate.ts';

const lever = shipped('hand-washing');
const leg = shipped('range-of-motion-leg');
const credited = (checklist: typeof lever, line: string): string[] =>
  narrate(checklist, [line]).events.flatMap((e) =>
    e.type === 'credited' ||
    (e.type === 'clock' && e.move === 'start') ||
    (e.type === 'movement' && (e.form === 'full' || e.form === 'short'))
      ? [e.step]
      : [],
  );

const respirations = shipped('respirations');

describe('words of a step that do not do it', () => {
  it.each([
    'I forgot to rinse my hands from the wrists to the fingertips.',
    'I have not rinsed my hands from the wrists down to the fingertips.',
    "I haven't dried my hands with a paper towel from the fingertips up.",
    "I didn't turn off the tap with a dry paper towel.",
    'I never cleaned under my nails.',
    'I never used soap.',
    'After taking some soap.',
    'I have not. Taken some soap.',
    "I miss the wrists, I haven't rubbed them.",
    'I almost forgot to wet my hands and wrists.',
    'Perhaps I am rinsing from the wrists down to the fingertips.',
    'Maybe I took some soap.',
    'She rinsed her hands from the wrists down to the fingertips.',
    'You rinse from the wrists down to the fingertips.',
    'Should I rinse from the wrists to the fingertips now?',
    'Did I clean under my nails?',
    'Do I dry from the fingertips up?',
    'Was I supposed to take soap now?',
    'If this were a pedal tap I would turn off the tap with a clean paper towel.',
    'If I had a watch I would push my watch and sleeves up.',
    'If it was a lever, a dry paper towel would turn off the tap.',
    'When I am done I will rinse from the wrists to the fingertips.',
    "I'm going to dry my hands with a towel from the fingertips up in a minute.",
    'I still need to clean under my nails.',
    "Before I leave I'll be taking some soap.",
    'If there were soap I would take some soap.',
    'Normally you would clean under your nails.',
    'In a minute I rinse from my wrists down to my fingertips.',
    'I should scrub all surfaces of my hands.',
    'Before I rinse from the wrists to the fingertips.',
    'My teacher says to dry from the fingertips up with a paper towel.',
    'I was told to clean under my nails.',
    'Yesterday I took some soap and rinsed from the wrists to the fingertips.',
    'I cleaned under my nails two days ago.',
    'Last week, cleaned under my nails and took some soap.',
    'Later, clean under my nails.',
    "I always forget the nails. I hope I don't forget them tomorrow.",
    "I always forget the nails I hope I don't forget them tomorrow.",
    "Don't forget cleaning under my nails.",
    "You'll clean under your nails.",
    'No soap yet.',
    'No. Soap on my hands.',
    'Did you clean under your nails?',
    'You should dry with a paper towel from the fingertips up.',
    "Don't forget to clean under your nails.",
    'I am drying my hands without a paper towel, not from the fingertips up.',
    'I touch the inside of the sink.',
    'I lean on the sink.',
    "I haven't wet my hands and wrists, taken soap, or cleaned under my nails.",
  ])('credits nothing: %s', (line) => {
    expect(credited(lever, line)).toEqual([]);
  });

  // Heard of "I haven't", "I didn't" (Moonshine; joe and flite's voices, clean and beside a tap at 10 dB).
  it.each([
    ['I have it cleaned under my nails.', lever],
    ['I have been cleaned under my nails.', lever],
    ['I have a taken soap.', lever],
    ['I did clean under my nails.', lever],
    ['I have and to wash my hands.', respirations],
    ['I did it wash my hands with soap and water.', respirations],
    ['I have been asked about pain.', leg],
  ] as const)('doubts what may be a denial misheard: %s', (line, checklist) => {
    expect(credited(checklist, line)).toEqual([]);
  });

  it('believes what only looks like one', () => {
    expect(credited(leg, 'I have been supporting the knee and the ankle.')).toEqual(['support-knee']);
    expect(credited(respirations, 'I have put the call light within reach.')).toEqual(['call-light']);
  });

  it.each([
    ["I'll close this curtain in a minute.", respirations],
    ["I'll just start counting your breathing now.", respirations],
    ["I'll just bend your knee.", leg],
  ] as const)('does not take an announcement for the deed: %s', (line, checklist) => {
    // To explain is to announce.
    expect(credited(checklist, line).filter((step) => step !== 'explain')).toEqual([]);
  });

  it.each([
    ["I'll just close the curtain.", 'privacy'],
    ["I'll close this curtain for you.", 'privacy'],
    ["I'll open your curtain again.", 'privacy-open'],
    ["I'll, um, pull this curtain across.", 'privacy'],
    ["You'll hear me closing the curtain.", 'privacy'],
  ])('takes what is announced as it is done for the deed: %s', (line, step) => {
    expect(credited(respirations, line)).toEqual([step]);
  });

  it.each([
    ['I keep clear of the inside of the sink.', 'clear-of-sink'],
    ["I'm not touching the inside of the sink.", 'clear-of-sink'],
    ['I stay off the sink.', 'clear-of-sink'],
    ['May I check your wristband please?', 'check-band'],
    ['Could you tell me your full name?', 'ask-name'],
    ["I'd like you to tell me your full name.", 'ask-name'],
    ["If you don't mind me asking, what is your full name?", 'ask-name'],
    ["I'm after taking some soap.", 'soap'],
    ['My hands never touch the sink, oh no they do not. Now I take some soap.', 'soap'],
    ["Hello, I'm Ruth and I'll be working with you this morning.", 'greet'],
    ['I know we met last week, but would you tell me your full name?', 'ask-name'],
    ['And, sorry, could you maybe tell me your full name?', 'ask-name'],
    ['Could I, uh, could I get your full name, please?', 'ask-name'],
    ["No, what's your full name?", 'ask-name'],
    ["I'm, um, taking, uh, some soap.", 'soap'],
    ['I clean under my nails so it will not itch later.', 'nails'],
    ["Who have I got here, what's your full name?", 'ask-name'],
    ['I am rinsing from the wrists to the fingertips.', 'rinse'],
    ["I forgot the nails. I'm cleaning under my nails now.", 'nails'],
    ["I haven't taken soap yet, so I'm taking some soap.", 'soap'],
    ["I'm I'm taking some soap.", 'soap'],
  ])('credits: %s', (line, step) => {
    expect(credited(lever, line)).toContain(step);
  });

  it('takes a plan told to the resident as an explanation, where the skill says so', () => {
    expect(credited(leg, "Tomorrow I'm going to practise bending the knee on my sister.")).toEqual([]);
    expect(credited(leg, "I'm going to move your knee and your ankle.")).toEqual(['explain']);
  });

  it('does not let the question before stand for what is said', () => {
    expect(credited(leg, 'Is it sore? No? If it hurts, tell me straight away.')).toContain('ask-pain');
  });

  it('takes "do not" as part of a cue only where the cue has it', () => {
    expect(credited(leg, 'I do not force the joint, I move gently.')).toContain('gently');
    expect(credited(leg, 'I do not support the knee and the ankle.')).toEqual([]);
  });

  it('notes what was said otherwise, with its stance', () => {
    const { marks } = narrate(lever, ['Later I will rinse from the wrists to the fingertips.']);
    const rinse = marks.steps.find((s) => s.id === 'rinse')!;
    expect(rinse.outcome).toBe('not heard');
    expect(rinse.note).toMatch(/put off/);
  });
});

it('hears a knock in the way recognisers write it, and a denial all the same', () => {
  expect(credited(respirations, "Not knock, it's the aide.")).toContain('knock');
  for (const line of ['I did not knock.', "I'm not knocking.", "I don't knock at the door."])
    expect(credited(respirations, line), line).toEqual([]);
});

it('does not take a request made to the trainee for a step', () => {
  for (const line of ['Close the curtain please.', 'Close the curtain, please, everyone can see.'])
    expect(credited(respirations, line), line).toEqual([]);
});
