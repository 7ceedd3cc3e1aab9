import { describe, expect, it } from 'vitest';
import { heardClearly } from '../language/utterance.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';
import { makeChecklist } from '../skills/checklist.ts';
import { RulesSchema, SkillSchema } from '../skills/skill.ts';
import { isInPlace, isPassedOver, rankSteps, situationOf } from './situation.ts';

const IDS = ['a', 'b', 'c', 'd', 'e', 'f', 'g', 'h'];
const steps = IDS.map((id) => ({ id, text: `do ${id}`, ...(id === 'd' && { after: ['b'] }) }));
const checklist = makeChecklist(
  SkillSchema.parse({
    schema: 1,
    id: 'letters',
    title: 'Letters',
    card: 'Do them.',
    steps: steps.map((step) => ({ ...step, cues: [`i do the letter ${step.id}`] })),
  }),
  { schema: 1, slots: {} },
  RulesSchema.parse({ schema: 1, id: 'rules', title: 'Rules', share: 0.8, outOfOrderCounts: true }),
);

/** A rehearsal in which these steps were said, one a second. */
const said = (...ids: readonly string[]): State =>
  ids.reduce((state, step, start) => {
    const evidence = { utterance: start, text: step, start, end: start + 1, score: 1 };
    return fold(state, { type: 'credited', step, evidence });
  }, BEFORE);

const likeliestFirst = (state: State, slips: Parameters<typeof rankSteps>[2] = null): string => {
  const rank = rankSteps(checklist, state, slips);
  return [...IDS].sort((a, b) => rank(a) - rank(b)).join('');
};

describe('the likeliest step', () => {
  it('is the first of the list, one that comes before what it must follow last', () => {
    expect(likeliestFirst(BEFORE)).toBe('abcefghd');
  });

  it('is one still open before one that was said', () => {
    expect(likeliestFirst(said('a', 'b'))).toBe('cdefghab');
  });

  it('is not one that was left behind, unless nothing else is open', () => {
    expect(likeliestFirst(said('b', 'c', 'd', 'e', 'f'))).toBe('ghabcdef');
  });

  it('is in a correction what was a slip', () => {
    const slips = new Map([...IDS.map((id) => [id, 'heard'] as const), ['f', 'not heard'] as const]);
    expect(likeliestFirst(BEFORE, slips)[0]).toBe('f');
  });

  it('may be one that was said out of order, which saying it again puts right', () => {
    // "d" came before "b".
    expect(likeliestFirst(said('a', 'd', 'b'))).toBe('cdefghab');
  });
});

describe('a place in the list', () => {
  it('speaks for a step where one of its neighbours was said', () => {
    const inPlace = (state: State): string[] =>
      checklist.steps.filter((each) => isInPlace(checklist, state, each)).map(({ id }) => id);
    expect(inPlace(BEFORE)).toEqual([]);
    expect(inPlace(said('d'))).toEqual(['b', 'c', 'e', 'f']);
  });

  it('is passed over once a later step was said', () => {
    expect(isPassedOver(checklist, said('c'), 'b')).toBe(true);
    expect(isPassedOver(checklist, said('c'), 'd')).toBe(false);
  });
});

describe('the situation of an utterance', () => {
  const of = (text: string, state: State = BEFORE) => situationOf(checklist, state, heardClearly(0, text, 0));

  it('is a correction where the words say so or one was asked for', () => {
    expect(of('I do the letter a.')).toMatchObject({ correcting: false, slips: null });
    expect(of('Let me correct that.').correcting).toBe(true);
    const asked = fold(BEFORE, { type: 'commanded', command: 'correct', at: 0, evidence: null });
    expect(of('I do the letter a.', asked).slips?.get('a')).toBe('not heard');
  });

  it('knows the slips where one is only owned up to', () => {
    const owned = of('I should have done the letter a.');
    expect(owned.correcting).toBe(false);
    expect(owned.slips?.get('a')).toBe('not heard');
  });
});
