import { describe, expect, it } from 'vitest';
import { narrate, shipped } from '../../tests/rehearsal/making/narrate.ts';
import { heardClearly } from '../../app/language/utterance.ts';
import { fold } from '../../app/marking/state.ts';
import { attend } from '../../app/run/attend.ts';
import { readBackOf } from '../../app/interpreting/reading/readBack.ts';
import { readingOf } from './readingView.ts';

const pressure = shipped('blood-pressure');

/** What the coach says to a saying, and what is then shown two seconds later. */
function shownFor(text: string) {
  const { state: before } = narrate(pressure, ['I let the air out slowly.']);
  const events = attend(pressure, before, heardClearly(1, text, 10));
  const question = readBackOf(pressure, before, events);
  const read = events.reduce(fold, before);
  const state = fold(read, { type: 'read back', readings: question?.readings ?? [], at: 15 });
  return {
    text: question?.text,
    shown: readingOf(pressure, state, 17),
    later: readingOf(pressure, state, 36),
  };
}

describe('a number in the room', () => {
  it('is read back and shown large, for as long as it can be answered to', () => {
    expect(shownFor('One eighteen over seventy-six.')).toEqual({
      text: '118 over 76. Right?',
      shown: { figure: '118/76', unit: 'mmHg', state: 'heard' },
      later: null,
    });
  });

  it('that cannot be meant is asked about', () => {
    expect(shownFor('Eighteen over seventy-six.')).toMatchObject({
      text: 'Eighteen mmHg would be very unusual. Is it right?',
      shown: { figure: '18/76', state: 'asked' },
    });
  });
});
