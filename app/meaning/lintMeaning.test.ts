import { expect, it } from 'vitest';
import { makeChecklist } from '../skills/checklist.ts';
import { RulesSchema } from '../skills/skill.ts';
import { parseLexicon, parseSkill } from '../authoring/skillFile.ts';
import { lintMeaning } from './lintMeaning.ts';

const SOURCE = `schema: 1
id: demo
title: Demo
card: Do it.
steps:
  - { id: curtain, text: Close the curtain, cues: ["i {close} the curtain", "the bird is in its cage"] }
  - { id: privacy, text: Give privacy }
`;
const lexicon = parseLexicon('lexicon.yaml', 'schema: 1\nslots:\n  close: [close, pull]\n');
const rules = RulesSchema.parse({ schema: 1, id: 'r', title: 'R', share: 1, outOfOrderCounts: true });

it('names the steps that the judge cannot tell apart, and the examples that it objects to, with their place', async () => {
  const skill = parseSkill('demo.yaml', SOURCE, lexicon);
  const sure: Record<string, Record<string, number>> = {
    'Close the curtain': { curtain: 0.99, privacy: 0.8 },
    'Give privacy': { privacy: 0.99, curtain: 0.2 },
    'i close the curtain': { curtain: 0.9 },
    'the bird is in its cage': { curtain: 0.001 },
  };
  const asked: string[] = [];
  const judge = {
    expect: () => Promise.resolve(),
    sureOf: (sentence: string) => {
      asked.push(sentence);
      return Promise.resolve(sure[sentence]!);
    },
  };
  const checklist = makeChecklist(skill, lexicon, rules);
  expect(await lintMeaning('demo.yaml', SOURCE, skill, checklist, lexicon, judge)).toMatchObject([
    {
      kind: 'meaning',
      file: 'demo.yaml',
      line: 6,
      field: 'steps[0].text',
      message: 'the judge of meaning takes this step\'s text for "privacy" as well; tell them apart',
    },
    {
      kind: 'meaning',
      file: 'demo.yaml',
      line: 6,
      field: 'steps[0].cues[1]',
      message:
        'the judge of meaning does not take "the bird is in its cage" for this step, so it will be asked about',
    },
  ]);
  expect(asked).toHaveLength(4);
});
