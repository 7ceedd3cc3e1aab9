import { describe, expect, it } from 'vitest';
import { makeChecklist, type Checklist } from '../../../app/skills/checklist.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { interpret } from '../../../app/interpreting/interpret.ts';
import { RulesSchema } from '../../../app/skills/skill.ts';
import { parseSkill } from '../../../app/authoring/skillFile.ts';
import { BEFORE, fold } from '../../../app/marking/state.ts';
import { heardClearly } from '../../../app/language/utterance.ts';
import { judged } from '../../written/judging.ts';

/** Steps without a single cue, but for the first: what is credited here is credited by their texts. */
const SKILL = `
schema: 1
id: plants
title: Watering plants
card: Water the plants.
steps:
  - { id: fill-can, text: Fill the watering can, cues: [fill the can] }
  - { id: test-soil, text: Test the soil with a finger }
  - { id: water, text: Water each pot slowly until the soil is moist, critical: true, cues: [water the pots] }
  - { id: leaves, text: Pick off the dead leaves }
  - { id: shade, text: Move the pots into the shade first, critical: true }
  - { id: wipe, text: Wipe each leaf from the stem to the tip, cues: [wipe the leaf stem tip] }
  - id: turn
    text: Turn each pot at least twice
    cues: [turn the pot]
    evidence: { kind: counted, atLeast: 2, joint: pot, again: [turn] }
  - id: height
    text: Say how tall the plant is
    critical: true
    cues: [the height is]
    evidence: { kind: reading, unit: centimetres, from: 5, to: 200, value: [it is tall] }
  - { id: mist, text: "Mist the leaves with plain water, no soap", critical: true }
  - id: soak
    text: Let the roots soak for a minute
    evidence: { kind: timed, atLeast: 60, start: [start the soak], stop: [end the soak], parts: [test-soil] }
`;
const rules = RulesSchema.parse({ schema: 1, id: 'r', title: 'R', share: 0.8, outOfOrderCounts: false });
const plants: Checklist = makeChecklist(
  parseSkill('plants.yaml', SKILL, { schema: 1, slots: {} }),
  { schema: 1, slots: {} },
  rules,
);

/** What a line leads to where the judge is so sure of some steps. */
function led(says: string, sure: Record<string, number>, state = BEFORE): RehearsalEvent[] {
  const said = heardClearly(0, says, 0);
  return interpret(plants, state, { ...said, judged: [{ from: 0, to: said.words.length, sure }] });
}
const kinds = (events: readonly RehearsalEvent[]): string[] =>
  events.flatMap((e) => ('step' in e ? [`${e.type} ${e.step}`] : []));

describe('the judge beside the rules', () => {
  it('credits what the rules do not know where it is sure, and asks where it is not', () => {
    const says = 'My finger goes in up to here, dry as a bone.';
    expect(kinds(led(says, { 'test-soil': 0.8 }))).toEqual(['credited test-soil']);
    expect(kinds(led(says, { 'test-soil': 0.45 }))).toEqual(['doubted test-soil']);
    expect(kinds(led(says, { 'test-soil': 0.2 }))).toEqual([]);
  });

  it('is believed sooner of an ordinary step whose neighbour in the list has been said', () => {
    const begun = led('I fill the can.', { 'fill-can': 1 }).reduce(fold, BEFORE);
    expect(kinds(led('My finger goes in up to here.', { 'test-soil': 0.45 }, begun))).toEqual([
      'credited test-soil',
    ]);
    expect(kinds(led('Off with the brown ones.', { leaves: 0.45 }, begun))).toEqual(['doubted leaves']);
    expect(kinds(led('A slow drink for each.', { water: 0.85 }, begun))).toEqual(['doubted water']);
  });

  it('credits a critical step alone only where it is surer', () => {
    const says = 'A good long drink for every one of them.';
    expect(kinds(led(says, { water: 0.97 }))).toEqual(['credited water']);
    expect(kinds(led(says, { water: 0.75 }))).toEqual(['doubted water']);
  });

  it('makes a step unsure where it objects, and shows why', () => {
    const events = led('I water the pots.', { water: 0.01 });
    expect(kinds(events)).toEqual(['doubted water']);
    expect(events[0]).toMatchObject({ why: 'meaning' });
    expect(kinds(led('I water the pots.', { water: 0.5 }))).toEqual(['credited water']);
  });

  it('is vetoed by a plain denial, postponement, question or "if", whatever it says', () => {
    for (const says of [
      'I did not put my finger in the earth.',
      'In a minute I will put my finger in the earth.',
      'Should I put my finger in the earth?',
      'If it were dry I would put my finger in the earth.',
      'Normally you put a finger in the earth.',
    ])
      expect(kinds(led(says, { 'test-soil': 0.85 })), says).toEqual([]);
  });

  it('keeps to the rules about what is announced or told', () => {
    const told = led('Here I would put my finger in the earth.', { 'test-soil': 0.9 });
    expect(told[0]).toMatchObject({ type: 'credited', manner: 'told' });
    const critical = led('Here I would give all of them a drink.', { water: 0.99 });
    expect(critical[0]).toMatchObject({ type: 'doubted', why: 'told' });
  });

  it('credits a critical step that keeps something off only where the words deny just that', () => {
    const [mist, asked] = [{ mist: 0.97 }, ['doubted mist']];
    expect(kinds(led('A spray from the bottle, only water, there is no soap in it.', mist))).toEqual([
      'credited mist',
    ]);
    expect(kinds(led('A spray from the bottle, soap and water.', mist))).toEqual(asked);
    expect(kinds(led('A spray of soap from the bottle, no hurry.', mist))).toEqual(asked);
  });

  it('asks where a critical step must come first and the words do not say so', () => {
    expect(kinds(led('Out of the sun they go, before anything else.', { shade: 0.97 }))).toEqual([
      'credited shade',
    ]);
    expect(kinds(led('Then out of the sun they go.', { shade: 0.97 }))).toEqual(['doubted shade']);
  });

  it('credits nothing that goes the other way, however sure it or the rules are', () => {
    expect(kinds(led('I wipe the leaf from the stem to the tip.', { wipe: 0.9 }))).toEqual(['credited wipe']);
    expect(kinds(led('I wipe the leaf from the tip to the stem.', { wipe: 0.99 }))).toEqual([]);
  });

  it('names movements, which the numbers beside them count, and leaves those that the rules found to them', () => {
    const movement = (events: RehearsalEvent[]) => events.filter(({ type }) => type === 'movement');
    expect(movement(led('Spin it round.', { turn: 0.9 }))).toMatchObject([{ step: 'turn', form: 'full' }]);
    expect(movement(led("I'm going to spin it round.", { turn: 0.9 }))).toMatchObject([
      { form: 'announced' },
    ]);
    expect(movement(led('I turn the pot.', { turn: 0.9 }))).toHaveLength(1);
    expect(movement(led('Spin it round.', { turn: 0.4 }))).toEqual([]);
  });

  it('takes a number where it is sure of a reading, and nothing without one', () => {
    const read = led('From soil to crown I make it forty-two.', { height: 0.97 });
    expect(kinds(read)).toEqual(['credited height', 'reading height']);
    expect(read.find(({ type }) => type === 'reading')).toMatchObject({ value: 42, sure: true });
    expect(kinds(led('From soil to crown I measure it.', { height: 0.97 }))).toEqual([]);
  });

  it('starts no clock', () => {
    expect(led('My finger goes in.', { 'test-soil': 0.99 }).some((e) => e.type === 'clock')).toBe(false);
  });

  it('reads a skill of step texts alone through the real network', async () => {
    const [said] = await judged([heardClearly(0, 'I nip the brown, dried-up leaves off.', 0)], plants);
    expect(kinds(interpret(plants, BEFORE, said!))).toEqual(['credited leaves']);
    const [denied] = await judged([heardClearly(0, 'I never touched the dead leaves.', 0)], plants);
    expect(kinds(interpret(plants, BEFORE, denied!)).filter((e) => e.startsWith('credited'))).toEqual([]);
  });
});
