import { describe, expect, it } from 'vitest';
import { makeChecklist, type Checklist } from '../../app/rehearsal/checklist.ts';
import type { RehearsalEvent } from '../../app/rehearsal/events.ts';
import { interpret } from '../../app/rehearsal/rehearsal.ts';
import { RulesSchema } from '../../app/rehearsal/skill.ts';
import { parseSkill } from '../../app/rehearsal/skillFile.ts';
import { BEFORE } from '../../app/rehearsal/state.ts';
import { heardClearly } from '../../app/rehearsal/utterance.ts';
import { judged } from '../speech/judging.ts';

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
function led(says: string, sure: Record<string, number>): RehearsalEvent[] {
  const said = heardClearly(0, says, 0);
  return interpret(plants, BEFORE, { ...said, judged: [{ from: 0, to: said.words.length, sure }] });
}
const kinds = (events: readonly RehearsalEvent[]): string[] =>
  events.flatMap((e) => ('step' in e ? [`${e.type} ${e.step}`] : []));

describe('the judge beside the rules', () => {
  it('credits what the rules do not know where it is sure, and asks where it is not', () => {
    const says = 'My finger goes in up to here, dry as a bone.';
    expect(kinds(led(says, { 'test-soil': 0.8 }))).toEqual(['credited test-soil']);
    expect(kinds(led(says, { 'test-soil': 0.55 }))).toEqual(['doubted test-soil']);
    expect(kinds(led(says, { 'test-soil': 0.3 }))).toEqual([]);
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
