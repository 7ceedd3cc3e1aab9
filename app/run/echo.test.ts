import { describe, expect, it } from 'vitest';
import { whoseVoice } from './echo.ts';
import type { Utterance } from '../language/utterance.ts';

const SAID = 'Say I am ready to begin.';

function utterance(start: number, text = 'I am ready to begin.'): Utterance {
  const words = text.split(' ').map((word, i) => ({
    text: word,
    start: start + 0.3 * i,
    end: start + 0.3 * (i + 1),
    uncertainty: 0.02,
  }));
  return { id: 0, text, start, end: words.at(-1)!.end, uncertainty: 0.02, confidence: 1, words };
}

describe('the echo guard', () => {
  it('takes for an echo what the coach says aloud at the time, and a moment after', () => {
    const aloud = [{ text: SAID, from: 10, to: 12 }];
    for (const start of [10, 11.5, 12.9]) expect(whoseVoice(aloud, utterance(start)).whose).toBe('coach');
    expect(whoseVoice(aloud, utterance(13.1)).whose).toBe('trainee');
    expect(whoseVoice(aloud, utterance(8)).whose).toBe('trainee');
  });

  it('never takes for an echo what was only written', () => {
    const written = [{ text: SAID, from: 10, to: 10 }];
    for (const start of [9, 10, 10.5]) expect(whoseVoice(written, utterance(start)).whose).toBe('trainee');
  });

  it('leaves the trainee their own words over the voice', () => {
    const aloud = [{ text: 'About 20 minutes left.', from: 10, to: 12 }];
    expect(whoseVoice(aloud, utterance(10.5, 'Now I take some soap.'))).toMatchObject({
      whose: 'trainee over coach',
    });
  });
});
