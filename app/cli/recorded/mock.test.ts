import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { toTestDocument, TestDocumentSchema } from './testDocument.ts';
import { planFor, sit } from '../../../tests/rehearsal/making/sit.ts';
import { main } from '../main.ts';
import { describeTest } from './report.ts';

async function sinkside(...args: string[]) {
  let [out, err] = ['', ''];
  const code = await main(args, {
    out: (text) => (out += text),
    err: (text) => (err += text),
    isTerminal: false,
  });
  return { code, out, err };
}

const ABOUT = { engine: 'moonshine/test', audioSeconds: 200, processingSeconds: 9, warnings: [] };
const plan = planFor(['hand-washing', 'respirations', 'range-of-motion-leg'], { minutes: 2 });
const { result } = await sit(plan, [
  'I am ready.', 'Getting some soap.', 'I am wetting my hands all over.', 'I want to correct something.', 'I am wetting my hands all over.',
  'Pause.', 9, 'Go on.', 'Next skill.', 'Knock, knock.', 'I am cleaning under my nails.', 150, 'Done.',
]); // prettier-ignore
const document = toTestDocument(plan, result, ABOUT, () => null);

describe('the document of a mock test', () => {
  it('has a published JSON Schema that says the same as the code', async () => {
    const schema = z.toJSONSchema(TestDocumentSchema, { target: 'draft-2020-12' });
    // After a change of the document: npx vitest run app/cli/recorded/mock.test.ts -u
    await expect(`${JSON.stringify(schema, null, 2)}\n`).toMatchFileSnapshot('mock.schema.json');
    const validate = new Ajv2020().compile(schema);
    expect(validate(JSON.parse(JSON.stringify(document))), JSON.stringify(validate.errors)).toBe(true);
    expect(validate({ ...document, passed: true })).toBe(false);
  });

  it('is told in words: the repair, what came too late, the pause, the end of the time, what was not reached', () => {
    const text = describeTest(document);
    expect(text).toMatch(/Put right in a correction/);
    expect(text).toMatch(/Too late, the skill was closed: nails/);
    expect(text).toMatch(/Paused from \d/);
    expect(text).toMatch(/the time was up at 2:/);
    expect(text).toMatch(/3\. Passive range of motion.* \(not reached\)/);
    expect(text).toMatch(/NOT PASSED for this practice test: 0 of 3 skills passed, 3 needed/);
    expect(text).toMatch(/your programme's handbook decides/);
  });
});

describe('sinkside draw', () => {
  it('draws the same skills for the same seed, hand washing first', async () => {
    const once = await sinkside('draw', '--form', 'short', '--seed', '7', '--json');
    expect(once).toMatchObject({ code: 0, err: '' });
    expect(await sinkside('draw', '--form', 'short', '--seed', '7', '--json')).toEqual(once);
    const { skills } = z
      .object({ skills: z.array(z.object({ skill: z.string() })) })
      .parse(JSON.parse(once.out));
    expect(skills).toHaveLength(3);
    expect(skills[0]!.skill).toBe('hand-washing');
    const told = await sinkside('draw', '--form', 'short');
    expect(told.out).toMatch(/^1\. Hand washing \[hand-washing\]\n2\. /);
    expect(told.out).toMatch(/seed \d+\. Rules in force: Larkfield first-weeks rule, 40 minutes in all/);
  });

  it.each<[string[], number, RegExp]>([
    [['draw', '--form', 'six'], 3, /There is no form "six"; there is: five-skills, short/],
    [['draw', '--seed', 'x'], 3, /--seed takes a whole number/],
    [['draw', 'now'], 2, /Usage: sinkside draw/],
    [['draw', '--pick', 'hand-washing,bow'], 3, /There is no skill "bow"/],
    [
      ['draw', '--pick', 'hand-washing', '--rules', 'none'],
      3,
      /There are no rules "none"; there is: first-weeks/,
    ],
    [['mock'], 2, /Usage: sinkside mock/],
    [['mock', 'x.wav'], 2, /Which skills\?/],
    [
      ['mock', 'x.wav', '--pick', 'hand-washing', '--evaluator', 'x'],
      2,
      /--evaluator takes SKILL.STEP=NUMBER/,
    ],
    [['mock', '/nowhere.wav', '--pick', 'hand-washing'], 3, /nowhere.wav/],
  ])('%j ends with %d', async (args, code, message) => {
    const answer = await sinkside(...args);
    expect(answer.code).toBe(code);
    expect(answer.err).toMatch(message);
  });
});
