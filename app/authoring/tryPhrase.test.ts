import { describe, expect, it } from 'vitest';
import { makeChecklist } from '../skills/checklist.ts';
import { RulesSchema } from '../skills/skill.ts';
import { parseLexicon, parseSkill } from './skillFile.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { tryPhrase } from './tryPhrase.ts';

const lexicon = parseLexicon('lexicon.yaml', 'schema: 1\nslots:\n  close: [close, pull, draw]\n');
const skill = parseSkill(
  'demo.yaml',
  `schema: 1
id: demo
title: Demo
card: Do it.
steps:
  - { id: curtain, text: Curtain, critical: true, cues: ["i {close} the curtain for privacy", "the curtain is shut"] }
  - { id: pillow, text: Pillow, cues: ["i fluff the pillow under the head"] }
  - id: rub
    text: Rub
    evidence: { kind: timed, atLeast: 20, start: ["i rub the lotion in"], stop: ["rubbing is over"] }
  - id: bend
    text: Bend
    cues: ["i bend the elbow"]
    evidence: { kind: counted, atLeast: 3, joint: elbow, again: [bend] }
  - id: weigh
    text: Weigh
    cues: ["i write the weight down"]
    evidence: { kind: reading, unit: kg, from: 20, to: 300, value: ["the scale shows"] }
`,
  lexicon,
);
const rules = RulesSchema.parse({ schema: 1, id: 'r', title: 'R', share: 1, outOfOrderCounts: true });
const checklist = makeChecklist(skill, lexicon, rules);
const effects = (phrase: string, state = BEFORE) =>
  tryPhrase(checklist, phrase, state).effects.map(({ step, does, how }) => [step, does, how]);

describe('a sentence', () => {
  it('that credits a step tells the words, the score and the cue', () => {
    const { effects, near } = tryPhrase(checklist, 'Now I pull the curtain for your privacy.');
    expect(effects).toEqual([
      expect.objectContaining({
        step: 'curtain',
        text: 'Curtain',
        does: 'credited',
        words: 'pull the curtain for your privacy.',
        cue: 'i {close} the curtain for privacy',
        lacking: [],
      }),
    ]);
    expect(effects[0]?.score).toBeGreaterThan(0.7);
    expect(near).toEqual([]);
  });

  it.each([
    ['I did not fluff the pillow under the head.', ['pillow', 'noted', 'denied']],
    ['I am going to fluff the pillow under the head.', ['pillow', 'credited', 'begun']],
    ['I rub the lotion in.', ['rub', 'clock', 'start']],
    ['I bend the elbow.', ['bend', 'movement', 'full']],
    ['The scale shows eighty kilograms.', ['weigh', 'reading', '80']],
  ])('"%s" does what it does', (phrase, effect) => {
    expect(effects(phrase)).toEqual([effect]);
  });

  it('is understood in the rehearsal it is said in', () => {
    expect(effects('Rubbing is over.')).toEqual([['rub', 'clock', 'stop']]);
    const evidence = { utterance: 0, text: '', start: 0, end: 1, score: 1 };
    const running = fold(BEFORE, { type: 'clock', step: 'rub', move: 'start', at: 1, uncertainty: 0, word: 0, evidence });
    const ended = effects('I fluff the pillow under the head.', running);
    expect(ended).toEqual([['rub', 'clock', 'stop'], ['pillow', 'credited', '']]);
    const stopped = tryPhrase(checklist, 'I fluff the pillow under the head.', running).effects;
    expect(stopped.map(({ cue }) => cue)).toEqual([null, 'i fluff the pillow under the head']);
  }); // prettier-ignore

  it('that comes near tells what was lacking', () => {
    const { effects, near } = tryPhrase(checklist, 'I fluff this up under there.');
    expect(effects).toEqual([]);
    expect(near).toEqual([
      expect.objectContaining({ step: 'pillow', cue: 'i fluff the pillow under the head', lacking: ['pillow', 'head'] }),
    ]);
  }); // prettier-ignore

  it('that is doubted tells why, and what of the cue was lacking', () => {
    const [doubted] = tryPhrase(checklist, 'I see the pillow for the head.').effects;
    expect(doubted).toMatchObject({ step: 'pillow', does: 'doubted', how: 'only part of a cue was said', lacking: ['fluff', 'under'] });
  }); // prettier-ignore

  it('that is a command says so, and an empty one does nothing', () => {
    expect(tryPhrase(checklist, 'How much time is left?')).toMatchObject({
      effects: [],
      command: 'time left',
    });
    expect(tryPhrase(checklist, '  ')).toEqual({ effects: [], near: [], meant: null, command: null });
    expect(tryPhrase(checklist, '…')).toMatchObject({ effects: [] });
  });
});

describe('a sentence that the learned judge has read', () => {
  const judged = [{ from: 0, to: 5, sure: { curtain: 0.99, pillow: 0.97, weigh: 0.01 } }];
  const tried = tryPhrase(checklist, 'The cushion goes behind you.', BEFORE, judged);

  it('tells what it seems to mean beside what the examples say', () => {
    expect(tried.meant).toEqual([
      { step: 'curtain', text: 'Curtain', sure: 0.99 },
      { step: 'pillow', text: 'Pillow', sure: 0.97 },
    ]);
  });

  it('credits what a rehearsal would credit', () => {
    expect(tried.effects.map(({ step, does, cue }) => [step, does, cue])).toContainEqual([
      'pillow',
      'credited',
      null,
    ]);
  });

  it('tells nothing of it where no judge was asked', () => {
    expect(tryPhrase(checklist, 'The cushion goes behind you.').meant).toBeNull();
  });
});
