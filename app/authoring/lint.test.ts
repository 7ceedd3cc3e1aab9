import { describe, expect, it } from 'vitest';
import { lintCare, lintSkill } from './lint.ts';
import { parseCare, parseLexicon } from './skillFile.ts';

const lexicon = parseLexicon(
  'lexicon.yaml',
  'schema: 1\nslots:\n  gait-belt: [gait belt]\n  rest: [pillow goes under the head]\n  curtain: [curtain, drape]\n  call: [call light, call bell]\n',
);
const HEAD = 'schema: 1\nid: demo\ntitle: Demo\ncard: Do it.\nsteps:\n';
const lint = (steps: string): string[] =>
  lintSkill('demo.yaml', HEAD + steps, lexicon).map(
    ({ kind, line, field, message }) => `${kind} ${line} ${field}: ${message}`,
  );

const SOUND = `
  - id: pillow
    text: Pillow
    cues: ["i fluff the pillow", "the pillow goes under the head"]
  - id: window
    text: Window
    cues: ["i open the window", "fresh air from the window"]
`;

describe('a skill that is as it should be', () => {
  it('has nothing to warn of', () => {
    expect(lint(SOUND)).toEqual([]);
  });

  it('may use one saying for two steps where the order tells them apart', () => {
    expect(
      lint('  - { id: a, text: A, cues: ["i fluff the pillow"] }\n  - { id: b, text: B, cues: ["i fluff the pillow"] }\n'),
    ).toEqual([]);
  }); // prettier-ignore
});

describe('a warning says where and what', () => {
  it('where a cue credits another step, and nothing its own', () => {
    // The slot's one wording is, word by word, all of the other step's cue, which fits it more fully.
    const steps = (cues: string): string =>
      `  - { id: a, text: A, cues: ["the pillow goes under the head"] }\n  - { id: b, text: B, cues: [${cues}] }\n`;
    expect(lint(steps('"{rest}"'))).toEqual([
      expect.stringMatching(/^never credited 7 steps\[1\]: nothing that its cues say credits this step/),
      expect.stringMatching(/^clash 7 steps\[1\]\.cues\[0\]: "pillow goes under the head" credits "a" instead/),
    ]);
    expect(lint(steps('"i shake the cushion", "{rest}"'))).toEqual([
      expect.stringMatching(/^clash 7 steps\[1\]\.cues\[1\]/),
    ]);
  }); // prettier-ignore

  it('where a time cannot be started or ended, or a number carried', () => {
    const timed = (start: string, stop: string): string =>
      `  - { id: rub, text: Rub, evidence: { kind: timed, atLeast: 20, start: [${start}], stop: [${stop}] } }\n`;
    expect(lint(timed('"i rub the lotion in"', '"rubbing is over"'))).toEqual([]);
    expect(lint(timed('"i rub the lotion in"', '"the"')).join()).toMatch(
      /never credited 6 steps\[0\]\.evidence\.stop: nothing that "stop" says ends its time/,
    );
    const reading = (value: string): string =>
      `  - { id: r, text: R, cues: ["i write it down", "i note the weight"], evidence: { kind: reading, unit: kg, from: 20, to: 300, value: [${value}] } }\n`;
    expect(lint(reading('"the scale shows"'))).toEqual([]);
    expect(lint(reading('"the"')).join()).toMatch(/never credited 6 steps\[0\]\.evidence\.value/);
  });

  it('where every cue needs a word that is often misheard, and only there', () => {
    const step = (cues: string): string => `  - { id: a, text: A, cues: [${cues}] }\n`;
    expect(lint(step('"i fasten the {gait-belt}", "{gait-belt} around the waist"'))).toEqual([
      expect.stringMatching(/^misheard 6 steps\[0\]\.cues\[0\]: every cue needs "gait belt", often heard as "gate valve"/),
    ]);
    expect(lint(step('"i fasten the {gait-belt}", "the belt goes around the waist"'))).toEqual([]);
    expect(lint(step('"i hand you the {call}"'))).toEqual([]);
  }); // prettier-ignore

  it('where a word alone is too short, or a number has a like', () => {
    const step = (cues: string): string => `  - { id: a, text: A, cues: [${cues}] }\n`;
    expect(lint(step('"{curtain}.", "i pull the {curtain}"'))).toEqual([
      expect.stringMatching(/cues\[0\]: "drape" alone is too short/),
    ]);
    expect(lint(step('"that was thirty seconds"'))).toEqual([expect.stringMatching(/"thirty" is easily taken/)]);
    expect(lint(step('"that was twenty seconds"'))).toEqual([]);
  }); // prettier-ignore

  it('where a cue is a command to the coach', () => {
    const found = lint('  - { id: a, text: A, cues: ["how much time is left", "i look at the clock"] }\n');
    expect(found).toEqual([
      expect.stringMatching(/^command 6 steps\[0\]\.cues\[0\]: "how much time is left" is the coach's command "time left"/),
    ]);
  }); // prettier-ignore

  it('where a critical step has one cue', () => {
    expect(lint('  - { id: a, text: A, critical: true, cues: ["i fluff the pillow"] }\n')).toEqual([
      expect.stringMatching(/^one cue 6 steps\[0\]\.cues\[0\]/),
    ]);
  });

  it('in a step of another variant; what a shared one shows by itself is told of that one', () => {
    const head = HEAD.replace('steps:', 'variants: { bed: { question: Bed, default: low, options: { low: Low, high: High } } }\nsteps:');
    const steps = '  - { id: a, text: A, cues: ["i fluff the pillow"], when: { bed: low } }\n  - { id: b, text: B, cues: ["i press the pedal"], critical: true, when: { bed: high } }\n  - use: knock\n';
    const shared = 'schema: 1\nsteps:\n  - { id: knock, text: Knock, cues: ["i tap at the door", "tap."] }\n';
    const care = parseCare('care.yaml', shared, lexicon);
    expect(lintSkill('demo.yaml', head + steps, lexicon, care).map(({ kind, line }) => [kind, line])).toEqual([
      ['one cue', 8],
    ]);
    expect(lintCare('care.yaml', shared, lexicon).map(({ kind, line, field }) => [kind, line, field])).toEqual([
      ['misheard', 3, 'steps[0].cues[1]'],
    ]);
    const own = `${HEAD}  - { use: knock, cues: ["knock."] }\n`;
    expect(lintSkill('demo.yaml', own, lexicon, care).map(({ field }) => field)).toEqual(['steps[0].cues[0]']);
  }); // prettier-ignore
});

it('refuses what is no skill', () => {
  expect(() => lint('  - { id: a }\n')).toThrow(/steps\[0\]/);
});
