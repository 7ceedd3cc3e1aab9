import { describe, expect, it } from 'vitest';
import { heardClearly, type Utterance } from '../../app/language/utterance.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { BEFORE, fold, type State } from '../../app/marking/state.ts';
import { attend } from '../../app/run/attend.ts';
import { readBackOf } from '../../app/interpreting/reading/readBack.ts';
import { shipped } from './making/narrate.ts';

const breaths = shipped('respirations');
const pressure = shipped('blood-pressure');
const urine = shipped('urine-output');
const pounds = shipped('standing-weight');
const kilograms = shipped('standing-weight', { unit: 'kilograms' });

/** A saying with numbers that could as well be others: the values beside each in the text, with their shares. */
interface Unclear {
  readonly unclear: string;
  readonly share: number;
  readonly rivals: readonly { readonly value: number; readonly share: number }[];
}
type Line = string | Unclear | { readonly back: true } | { readonly after: number };

const heard = (line: string | Unclear, id: number, at: number): Utterance => {
  if (typeof line === 'string') return heardClearly(id, line, at);
  const utterance = heardClearly(id, line.unclear, at);
  const numbers = utterance.numbers?.map((n) => ({ ...n, share: line.share, rivals: line.rivals })) ?? [];
  return { ...utterance, numbers };
};

/**
 * Says lines one after the other, each step but the readings said before. `back`: the coach reads back what was read in the line before, as
 * in coached style; `after`: so many seconds pass.
 */
function say(checklist: typeof breaths, lines: readonly Line[]) {
  const evidence = { utterance: -1, text: '', start: -9, end: -8, score: 1, manner: 'done' } as const;
  const others = checklist.steps.filter((step) => step.evidence.kind !== 'reading');
  let state: State = { ...BEFORE, credits: Object.fromEntries(others.map(({ id }) => [id, [evidence]])) };
  let before = state;
  let events: RehearsalEvent[] = [];
  let now = 0;
  lines.forEach((line, id) => {
    if (typeof line === 'object' && 'after' in line) return (now += line.after);
    if (typeof line === 'object' && 'back' in line) {
      const back = readBackOf(checklist, before, events);
      if (back && back.readings.length > 0)
        state = fold(state, { type: 'read back', readings: back.readings, at: now });
      return (now += 1);
    }
    const utterance = heard(line, id, now);
    before = state;
    events = attend(checklist, state, utterance);
    state = events.reduce(fold, state);
    return (now = utterance.end + 1);
  });
  const marks = markRehearsal(checklist, state);
  const outcomes = Object.fromEntries(marks.steps.map(({ id, outcome }) => [id, outcome]));
  const notes = Object.fromEntries(marks.steps.map(({ id, note }) => [id, note]));
  return { state, outcomes, notes, readings: state.readings };
}
const BACK = { back: true } as const;
/** Value and whether it is sure, of each reading. */
const read = (checklist: typeof breaths, lines: readonly Line[]) =>
  Object.fromEntries(
    Object.entries(say(checklist, lines).readings).map(([step, { value, sure }]) => [
      step,
      sure ? value : `${value}?`,
    ]),
  );

describe('a reading is taken with its unit and its place', () => {
  it.each<[string, typeof breaths, Record<string, number | string>]>([
    ['I write down sixteen breaths a minute.', breaths, { record: 16 }],
    ['I write down sixteen breaths in sixty seconds.', breaths, { record: 16 }],
    ['I counted sixteen breaths, not eighteen.', breaths, { record: 16 }],
    ['One eighteen over seventy-six.', pressure, { systolic: 118, diastolic: 76 }],
    ['The blood pressure is 118/76.', pressure, { systolic: 118, diastolic: 76 }],
    [
      'Blood pressure is one eighteen, no, one sixteen over seventy-six.',
      pressure,
      { systolic: 116, diastolic: 76 },
    ],
    ['I write down four twenty-five milliliters.', urine, { record: 425 }],
    ['I write down four hundred and twenty-five ml.', urine, { record: 425 }],
    ['I write 425ml on the sheet.', urine, { record: 425 }],
    ['I write down fourteen ounces.', urine, { record: 414 }],
    ['I write down half of it: point five liters.', urine, { record: 500 }],
    ['I write down a hundred and forty-two and a half pounds.', pounds, { 'record-pounds': 142.5 }],
    ['I write down 142 pounds and a half.', pounds, { 'record-pounds': 142.5 }],
    ['I write down 142 pounds 8 ounces.', pounds, { 'record-pounds': 142.5 }],
    ['I write down sixty-four point four kilograms.', pounds, { 'record-pounds': 142 }],
    ['I write down sixty-four point four kilos.', kilograms, { 'record-kilograms': 64.4 }],
    ['I write down a hundred and forty-two pounds.', kilograms, { 'record-kilograms': 64.4 }],
  ])('%s', (text, checklist, wanted) => {
    expect(read(checklist, [text])).toEqual(wanted);
  });

  it('tells of another unit in the mark', () => {
    expect(say(urine, ['I write down fourteen ounces.']).notes['record']).toBe(
      '414 millilitres, said as 14 ounces.',
    );
  });
});

describe('a number that cannot be, or is of something else', () => {
  it.each<[string, typeof breaths, Record<string, number | string>]>([
    ['I counted a hundred and sixty breaths.', breaths, { record: '160?' }],
    ['I write down sixteen beats.', breaths, { record: '16?' }],
    ['I write down four pounds.', urine, { record: '4?' }],
    // A lost "one hundred" must not make the lower number the upper one.
    ['The blood pressure is eighteen over seventy-six.', pressure, { systolic: '18?', diastolic: 76 }],
  ])('%s is asked about', (text, checklist, wanted) => {
    expect(read(checklist, [text])).toEqual(wanted);
  });

  it('is never refused: said again, or confirmed, it counts', () => {
    const odd = 'I counted a hundred and sixty breaths.';
    expect(say(breaths, [odd, 'I write it down.']).outcomes['record']).toBe('unsure');
    expect(say(breaths, [odd, 'I write down a hundred and sixty breaths.']).outcomes['record']).toBe('heard');
    expect(read(breaths, [odd, BACK, 'Yes.'])).toEqual({ record: 160 });
  });

  it('cannot be confirmed in the unit of something else', () => {
    expect(read(breaths, ['I write down sixteen beats.', BACK, 'Yes.'])).toEqual({ record: '16?' });
    expect(read(breaths, ['I write down sixteen beats.', BACK, 'Sixteen breaths.'])).toEqual({ record: 16 });
  });
});

describe('a number that was read back', () => {
  const SAID = 'I write down eighteen breaths.';
  it.each([
    'No, sixteen.',
    'Correction, sixteen.',
    'I mean sixteen.',
    'Sorry, sixteen breaths.',
    'Sixteen.',
    'No, it is sixteen, not eighteen.',
  ])('is replaced: %s', (answer) => {
    expect(read(breaths, [SAID, BACK, answer])).toEqual({ record: 16 });
  });

  it('is replaced by both numbers of a pair, or by the one that is nearer, which is asked about', () => {
    const said = 'One eighteen over seventy-six.';
    expect(read(pressure, [said, BACK, 'Correction, one sixteen over seventy-eight.'])).toEqual({
      systolic: 116,
      diastolic: 78,
    });
    expect(read(pressure, [said, BACK, 'No, seventy-eight.'])).toEqual({ systolic: 118, diastolic: '78?' });
  });

  it.each(['Yes.', "That's right.", 'Yes, eighteen.', 'Correct.'])('stands: %s', (answer) => {
    const unclear = { unclear: SAID, share: 0.6, rivals: [{ value: 19, share: 0.4 }] };
    expect(read(breaths, [unclear])).toEqual({ record: '18?' });
    const { readings, notes } = say(breaths, [unclear, BACK, answer]);
    expect(readings['record']).toMatchObject({ value: 18, sure: true });
    if (answer === 'Yes.') expect(notes['record']).toBe('18 breaths a minute, confirmed.');
  });

  it('is taken back by a "no", and the next number takes its place', () => {
    expect(say(breaths, [SAID, BACK, 'No.']).outcomes['record']).toBe('unsure');
    expect(read(breaths, [SAID, BACK, 'No.', 'Sixteen.'])).toEqual({ record: 16 });
  });

  it('is taken back by what begins to put it right, or may have, and is not understood', () => {
    for (const answer of ['I mean all of the three.', 'No, as the clock.', 'For the two.'])
      expect(say(breaths, [SAID, BACK, answer]).readings['record'], answer).toMatchObject({
        why: 'taken back',
      });
    expect(read(breaths, [SAID, BACK, 'Your call light is in reach.'])).toEqual({ record: 18 });
    expect(read(breaths, [SAID, 'For the two.'])).toEqual({ record: 18 });
  });

  it('is not answered by what is said late, or after something else', () => {
    const unclear = { unclear: SAID, share: 0.6, rivals: [] };
    expect(read(breaths, [unclear, BACK, { after: 40 }, 'Yes.'])).toEqual({ record: '18?' });
    expect(read(breaths, [unclear, BACK, 'Is that all right, Mrs. Alder?', 'Yes.'])).toEqual({
      record: '18?',
    });
  });
});

describe('in silent style', () => {
  const SAID = 'I write down eighteen breaths.';
  it('a slip counts only once it is said again', () => {
    expect(read(breaths, [SAID, 'No, sixteen.'])).toEqual({ record: '16?' });
    expect(say(breaths, [SAID, 'No, sixteen.']).notes['record']).toMatch(/after 18/);
    expect(read(breaths, [SAID, 'No, sixteen.', 'Sixteen.'])).toEqual({ record: 16 });
    expect(read(breaths, [SAID, 'No, sixteen.', 'I recorded sixteen.'])).toEqual({ record: 16 });
    expect(read(breaths, [SAID, 'No, sixteen.', 'I recorded eighteen.'])).toEqual({ record: 18 });
  });

  it('a second number is held against the first', () => {
    expect(read(breaths, [SAID, 'I write down eighty breaths.'])).toEqual({ record: '80?' });
    expect(read(breaths, [SAID, 'I write down sixteen breaths.'])).toEqual({ record: '16?' });
    expect(read(breaths, ['I counted sixteen breaths.', 'I write down sixteen.'])).toEqual({ record: 16 });
  });

  it('a "yes" confirms nothing, and a bare number that nobody asked for is none', () => {
    const unclear = { unclear: SAID, share: 0.6, rivals: [] };
    expect(read(breaths, [unclear, 'Yes.'])).toEqual({ record: '18?' });
    expect(read(breaths, [SAID, 'Twelve.'])).toEqual({ record: 18 });
  });

  it('a mishearing said again stays unsure as long as it is not clear', () => {
    const unclear = { unclear: SAID, share: 0.6, rivals: [{ value: 19, share: 0.4 }] };
    expect(read(breaths, [unclear, unclear])).toEqual({ record: '18?' });
  });
});

describe('a number that is due', () => {
  it('is asked about in words that credit nothing', () => {
    const { outcomes, readings } = say(breaths, ['So, sixteen.']);
    expect(readings['record']).toMatchObject({ value: 16, sure: false });
    expect(outcomes['record']).toBe('unsure');
  });

  it('is asked for where only the words around it are heard', () => {
    for (const text of [
      'Respirations are targeted.',
      'I record when to do respirations.',
      'Heading breaths a minute.',
    ])
      expect(say(breaths, [text]).outcomes['record'], text).toBe('unsure');
    expect(read(breaths, ['Respirations are targeted.', BACK, 'Sixteen.'])).toEqual({ record: 16 });
    expect(read(breaths, ['For the two breaths a minute.'])).toEqual({ record: '2?' });
  });

  it('is none of the time, nor of several', () => {
    expect(read(breaths, ['Sixty seconds.'])).toEqual({});
    expect(read(breaths, ['The second hand is on the twelve, so I counted.'])).toEqual({});
    expect(read(breaths, ['Fourteen, fifteen, sixteen.'])).toEqual({});
  });
});
