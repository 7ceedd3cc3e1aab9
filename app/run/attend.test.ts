import { beforeEach, describe, expect, it, vi } from 'vitest';
import { shipped, utterance } from '../../tests/rehearsal/making/narrate.ts';
import type * as interpreting from '../interpreting/interpret.ts';
import { interpret } from '../interpreting/interpret.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';
import { attend, tell } from './attend.ts';
import { provisional } from './provisional.ts';

vi.mock('../interpreting/interpret.ts', async (original) => {
  const real = await original<typeof interpreting>();
  return { ...real, interpret: vi.fn(real.interpret) };
});

const washing = shipped('hand-washing');
const SOAP = 'I am getting some soap.';
const PAUSED: State = { ...BEFORE, paused: 5 };
const OVER_COACH: State = { ...BEFORE, spoken: [{ text: 'Read the card again.', from: 0, to: 9 }] };

const kindOf = (state: State, text: string, start = 6) => tell(washing, state, utterance(text, start)).kind;

describe('what an utterance is', () => {
  it.each([
    ['narration', BEFORE, SOAP],
    ['narration', BEFORE, 'Go on.'], // Nothing is paused.
    ['command', BEFORE, 'Pause.'],
    ['command', BEFORE, 'Read the card.'],
    ['command', PAUSED, 'Go on.'],
    ['talk in a pause', PAUSED, SOAP],
    ['echo', OVER_COACH, 'Read the card again.'],
    ['narration', OVER_COACH, SOAP],
  ] as const)('is %s', (kind, state, text) => expect(kindOf(state, text)).toBe(kind));

  it('is narration where it ended before the pause, however late its words are known', () => {
    expect(kindOf(PAUSED, SOAP, 0)).toBe('narration');
    expect(kindOf(PAUSED, SOAP, 4)).toBe('talk in a pause');
  });

  it('is the command to stop once a count that "stop" ends is over, and the end of the count before', () => {
    const breaths = shipped('respirations');
    const said = (state: State, text: string, start: number): State =>
      attend(breaths, state, utterance(text, start)).reduce(fold, state);
    const counting = said(BEFORE, 'Starting now.', 2);
    const stop = (state: State, start: number) =>
      tell(breaths, state, utterance('Stop the rehearsal.', start)).kind;
    expect(stop(counting, 65)).toBe('narration');
    expect(stop(said(counting, 'That is one full minute, done.', 65), 80)).toBe('command');
  });

  it('has a command after narration where the coach is called by name', () => {
    const said = tell(washing, BEFORE, utterance(`${SOAP} Coach, pause.`));
    expect(said).toMatchObject({
      kind: 'command',
      command: 'pause',
      before: { text: SOAP },
      order: { text: 'Coach, pause.' },
    });
    const events = attend(washing, BEFORE, utterance(`${SOAP} Coach, pause.`));
    expect(Object.keys(events.reduce(fold, BEFORE).credits)).toEqual(['soap']);
    expect(events.slice(-3).map(({ type }) => type)).toEqual(['aside', 'commanded', 'paused']);
  });

  it('lets a called command through the coach’s own words, and nothing of those', () => {
    const said = tell(washing, OVER_COACH, utterance('Read the card. I see. Coach, pause.', 3));
    expect(said).toMatchObject({ kind: 'command', command: 'pause', before: null });
  });
});

describe('interpreting', () => {
  beforeEach(() => void vi.mocked(interpret).mockClear());

  it.each([SOAP, 'Pause.', "Let's begin.", 'I am finished.', 'Next skill.'])('is done once: "%s"', (text) => {
    attend(washing, BEFORE, utterance(text));
    expect(interpret).toHaveBeenCalledTimes(1);
  });

  it('is not needed in a pause, nor where the coach is called by name', () => {
    for (const text of [SOAP, 'Go on.']) attend(washing, PAUSED, utterance(text, 6));
    attend(washing, BEFORE, utterance('Coach, pause.'));
    expect(interpret).not.toHaveBeenCalled();
  });
});

describe('a partial text', () => {
  const credits = (state: State, text: string, start = 6) =>
    provisional(washing, state, { text, start, end: start + 2 }).map((e) => e.type === 'tentative' && e.step);

  it('goes the way of a final one: a command, an echo and talk in a pause credit nothing', () => {
    expect(credits(BEFORE, SOAP)).toEqual(['soap']);
    expect(credits(PAUSED, SOAP)).toEqual([]);
    expect(credits(PAUSED, SOAP, 2)).toEqual(['soap']);
    expect(credits(BEFORE, 'Coach, pause.')).toEqual([]);
    expect(credits({ ...BEFORE, spoken: [{ text: SOAP, from: 5, to: 9 }] }, SOAP)).toEqual([]);
    // Nor does what the judge makes of it go another way than in a final one.
    const judged = [{ from: 0, to: 3, sure: { soap: 0.99 } }];
    const meant = { text: 'Some from the bottle.', start: 6, end: 8 };
    expect(provisional(washing, BEFORE, meant)).toEqual([]);
    expect(provisional(washing, BEFORE, { ...meant, judged })).toMatchObject([{ step: 'soap' }]);
    expect(provisional(washing, PAUSED, { ...meant, judged })).toEqual([]);
    // The coach speaks over it: the final result decides.
    expect(credits(OVER_COACH, SOAP)).toEqual([]);
  });
});
