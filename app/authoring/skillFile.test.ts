import { describe, expect, it } from 'vitest';
import { FaultyFile } from '../faults/faults.ts';
import { parseCare, parseLexicon, parseRules, parseSkill } from './skillFile.ts';

const lexicon = parseLexicon('lexicon.yaml', 'schema: 1\nslots:\n  close: [close, pull]\n');
const HEAD = 'schema: 1\nid: demo\ntitle: Demo\ncard: Do it.\n';
const skill = (steps: string, head = HEAD) => parseSkill('demo.yaml', `${head}steps:\n${steps}`, lexicon);
const faults = (steps: string, head = HEAD): string => {
  try {
    skill(steps, head);
  } catch (error) {
    if (error instanceof FaultyFile) return error.message;
    throw error;
  }
  return '';
};

describe('a skill file', () => {
  it('is read with its defaults', () => {
    const { steps } = skill('  - { id: a, text: A, cues: ["{close} it"] }\n');
    expect(steps[0]).toMatchObject({ critical: false, plans: false, evidence: { kind: 'said' } });
  });

  it.each<[string, string, RegExp]>([
    ['a duplicate id', '  - { id: a, text: A, cues: [x] }\n  - { id: a, text: B, cues: [x] }\n', /demo.yaml:7:11: steps\[1\]\.id: duplicate id "a": step 1 has it already/],
    ['an unknown slot', '  - { id: a, text: A, cues: ["{cloze} it"] }\n', /demo.yaml:6:30: steps\[0\]\.cues\[0\]: unknown slot \{cloze\}/],
    ['a circle in the order', '  - { id: a, text: A, cues: [x], before: [b] }\n  - { id: b, text: B, cues: [x], before: [a] }\n', /the order runs in a circle: a → b → a/],
    ['a step that is not there', '  - { id: a, text: A, cues: [x], after: [zed] }\n', /steps\[0\]\.after\[0\]: no step has the id "zed"/],
    [
      'a reading without cues',
      '  - { id: a, text: A, evidence: { kind: reading, unit: mL, from: 0, to: 9, value: [x] } }\n',
      /needs cues: what a trainee says for it/,
    ],
    ['an unknown field', '  - { id: a, text: A, cues: [x], critcal: true }\n', /unknown field "critcal"/],
    ['an unknown variant', '  - { id: a, text: A, cues: [x], when: { tap: knee } }\n', /the skill has no variant "tap"/],
    ['a wrong type', '  - { id: a, text: A, cues: [x], critical: maybe }\n', /steps\[0\]\.critical: /],
    ['no steps', '  []\n', /a skill needs steps/],
    ['broken YAML', '  - { id: a, text: "A }\n', /demo.yaml:\d+:\d+: /],
    ['several at once', '  - { id: a, text: A, cues: ["{no}"] }\n  - { id: a, text: B, cues: ["{nor}"] }\n', /\{no\}[^]*\{nor\}/],
  ])('says where %s is', (_name, steps, message) => {
    expect(faults(steps)).toMatch(message);
  }); // prettier-ignore

  it('refuses another schema, an empty file and a list', () => {
    expect(faults('  - { id: a, text: A, cues: [x] }\n', HEAD.replace('1', '2'))).toMatch(
      /reads skill files of schema 1/,
    );
    for (const source of ['', '- 1\n', 'just words']) {
      expect(() => parseSkill('demo.yaml', source, lexicon)).toThrow(FaultyFile);
    }
  });
});

describe('lexicon and rules', () => {
  it('are checked too', () => {
    expect(() => parseLexicon('l.yaml', 'schema: 1\nslots:\n  close: []\n')).toThrow(
      /l.yaml:3:10: slots\.close/,
    );
    expect(() =>
      parseRules('r.yaml', 'schema: 1\nid: x\ntitle: X\nshare: 80\noutOfOrderCounts: false\n'),
    ).toThrow(/r.yaml:4:8: share/);
  });
});

describe('shared steps', () => {
  const care = parseCare(
    'care.yaml',
    'schema: 1\nsteps:\n' +
      '  - { id: greet, text: Greet, cues: ["{close} hello"], before: [explain, curtain] }\n' +
      '  - { id: explain, text: Explain, plans: true, cues: [explain] }\n',
    lexicon,
  );
  const composed = (steps: string) => parseSkill('demo.yaml', `${HEAD}steps:\n${steps}`, lexicon, care);

  it('stand where a skill uses them, its own cues and orders first', () => {
    const { steps } = composed(
      '  - { use: greet, cues: [hiya], before: [do], critical: true }\n' +
        '  - { use: explain, text: Say what you do }\n  - { id: do, text: Do, cues: [do] }\n',
    );
    expect(steps).toMatchObject([
      {
        id: 'greet',
        text: 'Greet',
        critical: true,
        cues: ['hiya', '{close} hello'],
        before: ['do', 'explain'],
      },
      { id: 'explain', text: 'Say what you do', plans: true, cues: ['explain'] },
      { id: 'do' },
    ]);
  });

  it.each<[string, string, RegExp]>([
    ['a shared step that is not there', '  - { use: bow }\n', /demo.yaml:6:12: steps\[0\]\.use: there is no shared step "bow"; there is: greet, explain/],
    ['a wrong type beside one', '  - { use: greet, cues: hiya }\n', /demo.yaml:6:\d+: steps\[0\]\.cues: /],
    ['an unknown field beside one', '  - { use: greet, cue: [hiya] }\n', /unknown field "cue"/],
    ['a step twice', '  - { use: greet }\n  - { id: greet, text: A, cues: [x] }\n', /duplicate id "greet"/],
  ])('say where %s is', (_name, steps, message) => {
    expect(() => composed(steps)).toThrow(message);
  }); // prettier-ignore

  it('are checked themselves', () => {
    expect(() =>
      parseCare('care.yaml', 'schema: 1\nsteps:\n  - { id: a, text: A, cues: ["{cloze}"] }\n', lexicon),
    ).toThrow(/care.yaml:3:30: steps\[0\]\.cues\[0\]: unknown slot/);
  });
});
