import { describe, expect, it } from 'vitest';
import type { Checklist } from '../../app/skills/checklist.ts';
import { interpret, momentsWanted } from '../../app/interpreting/interpret.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { BEFORE, fold } from '../../app/marking/state.ts';
import { heardClearly, wordsFrom, type Utterance } from '../../app/language/utterance.ts';
import { shipped } from './making/narrate.ts';

const lever = shipped('hand-washing');
const breaths = shipped('respirations');

const SCRUB = 'I am scrubbing all surfaces of my hands.';
const RINSE = 'I rinse from the wrists down to the fingertips.';

/** A saying at a time in seconds, as two engines heard it; the second leaves out punctuation and capitals. */
function both(text: string, other: string, at = 0, sure = 0.98): Utterance {
  const second = heardClearly(0, other.toLowerCase().replace(/[^\w' ]/g, ''), at);
  const words = second.words.map((word) => ({ ...word, confidence: sure }));
  return { ...heardClearly(0, text, at), second: { ...second, words } };
}

function marksOf(checklist: Checklist, ...sayings: Utterance[]) {
  const state = sayings
    .map((u, id) => ({ ...u, id }))
    .reduce((s, u) => interpret(checklist, s, u).reduce(fold, s), BEFORE);
  const marks = markRehearsal(checklist, state);
  return { ...marks, step: (id: string) => marks.steps.find((s) => s.id === id)! };
}

describe('what two engines heard', () => {
  it('is believed where both heard it, even if one was not clear', () => {
    const alone = { ...heardClearly(0, 'Getting some soap.', 0), confidence: 0.2 };
    const unclear = { ...both('Getting some soap.', 'getting some soap'), confidence: 0.2 };
    expect(marksOf(lever, unclear).step('soap').outcome).toBe('heard');
    expect(marksOf(lever, alone).step('soap').outcome).toBe('unsure');
  });

  it('is unsure where a critical step is borne out by one alone', () => {
    expect(marksOf(lever, both(RINSE, RINSE)).step('rinse').outcome).toBe('heard');
    const { outcome, note } = marksOf(lever, both(RINSE, 'the blinds are on the inner sill')).step('rinse');
    expect(outcome).toBe('unsure');
    expect(note).toMatch(/^Only one of two ways of listening heard it/);
    expect(marksOf(lever, both(RINSE, `i did not ${RINSE.slice(2)}`)).step('rinse').outcome).toBe('unsure');
  });

  it('is not believed where the first heard plainly that it was not done', () => {
    const said = both("I didn't do between my fingers yet.", 'i do between my fingers');
    expect(marksOf(lever, said).step('between-fingers').outcome).not.toBe('heard');
  });

  it('credits what only the second heard, surely, of a step that is not critical', () => {
    expect(marksOf(lever, both('So,', 'getting some soap')).step('soap').outcome).toBe('heard');
    expect(marksOf(lever, both('So,', 'getting some soap', 0, 0.5)).step('soap').outcome).toBe('unsure');
    expect(marksOf(lever, both('Prince.', RINSE)).step('rinse').outcome).toBe('unsure');
  });

  it('credits a critical step that only the second heard whole, where the first heard much of it', () => {
    const most = 'I wash all the soap off my hands, from the rest.';
    const whole = 'I wash all the soap off my hands from wrist to fingertip';
    expect(marksOf(lever, both(most, whole)).step('rinse').outcome).toBe('heard');
    expect(marksOf(lever, both(most, whole, 0, 0.5)).step('rinse').outcome).toBe('unsure');
  });

  it('is unsure where the word that may deny it is', () => {
    const said = both('I have a check to risk them.', 'I have checked the wristband');
    const words = said.second!.words.map((w) => (w.text === 'have' ? { ...w, confidence: 0.67 } : w));
    expect(marksOf(lever, said).step('check-band').outcome).toBe('heard');
    expect(marksOf(lever, { ...said, second: { ...said.second!, words } }).step('check-band').outcome).toBe(
      'unsure',
    );
  });

  it('is unsure where the second heard that it was not done', () => {
    const { outcome } = marksOf(lever, both('I take some soap.', 'I did not take some soap')).step('soap');
    expect(outcome).toBe('unsure');
  });

  it.each(['Should I be getting some rope?', 'I am not getting any rope.', 'Next I will get rope.'])(
    'credits nothing of the second where the first heard that it was not done: %s',
    (text) => {
      expect(marksOf(lever, both(text, 'getting some soap')).step('soap').outcome).not.toBe('heard');
    },
  );

  it('stops a clock at what either heard, and starts none at what only the second did', () => {
    const wash = (stop: Utterance) =>
      marksOf(lever, both(SCRUB, SCRUB), stop, both('Now I am drying from the fingertips up.', 'drying', 40))
        .clocks[0]!;
    expect(wash(both('Hide to rent.', 'time to rinse', 15))).toMatchObject({ met: false });
    expect(wash(both('This takes a while.', 'this takes a while', 15))).toMatchObject({ met: true });
    const started = marksOf(lever, both('Grabbing.', SCRUB), both(RINSE, RINSE, 30));
    expect(started.step('scrub').outcome).toBe('unsure');
  });

  it('asks for no word of the first again that only the second heard', () => {
    const begun = interpret(lever, BEFORE, both(SCRUB, SCRUB)).reduce(fold, BEFORE);
    const said = both('Well, hide to rent.', 'well time to rinse', 15);
    const events = interpret(lever, begun, said);
    expect(events).toContainEqual(expect.objectContaining({ type: 'clock', move: 'stop' }));
    expect(momentsWanted(events, said)).toEqual([]);
  });

  it('asks about a number that the two heard differently', () => {
    const said = 'I counted eighteen respirations.';
    const reading = (other: string) => marksOf(breaths, both(said, other)).readings[0];
    expect(reading(said)).toMatchObject({ value: 18, sure: true });
    expect(reading('I counted sixteen respirations.')).toMatchObject({
      value: 18,
      sure: false,
      rivals: [16],
    });
    expect(reading('I counted a team of respirations.')).toMatchObject({ value: 18, sure: false });
  });

  it('is cut with the utterance, by time', () => {
    const said = both('Getting some soap. Coach, pause please.', 'getting some soap coach pause please');
    expect(wordsFrom(said, 0, 3).second!.text).toBe('getting some soap');
    expect(wordsFrom(said, 3).second!.text).toBe('coach pause please');
  });
});
