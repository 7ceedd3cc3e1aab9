import { cp, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { SHIPPED_SKILLS } from '../../app/library/library.ts';
import type { TestResult } from '../../app/run/mockTest.ts';
import type { Line } from './narration.ts';
import { synthesize, type Spoken } from './synthesize.ts';

/**
 * A mock test of five skills, spoken: a correction made in time and one too late, a critical step left out, and a last skill in
 * which the time runs out. Each skill is cut to what the test is about.
 */
export const FIVE = [
  'hand-washing',
  'respirations',
  'range-of-motion-leg',
  'mouth-care',
  'feeding-and-fluids',
] as const;

const line = (say: string, pause = 1.2): Line => ({
  say,
  by: 'trainee',
  pause,
  credits: [],
  either: [],
  counts: {},
});

const LINES: readonly Line[] = [
  line('I am ready to begin.', 3),
  line('Now I take some soap.'),
  line('I am wetting my hands and my wrists.'),
  line('I want to correct something.', 2.5),
  line('I am wetting my hands and my wrists.'),
  {
    ...line('I am scrubbing all the surfaces of my hands with friction.'),
    starts: 'scrub',
    fills: { scrub: 22 },
  },
  { ...line('I am done scrubbing.'), stops: 'scrub' },
  line('I am rinsing my hands, from the wrists down to the fingertips.'),
  line('Next skill.', 3),
  line('I knock on the door before I go in.'),
  line('I close the curtain for privacy.'),
  line('I clean under my nails.', 2),
  line('Next skill, please.', 3),
  line('I support your knee and your ankle.'),
  line('Does anything hurt? Tell me if it hurts, please.'),
  line('Next skill.', 3),
  line('I put on clean gloves.'),
  line('I lay a towel across your chest.'),
  line('Next skill, please.', 3),
  line('I check that the food is not too hot.'),
  line('I check the diet card.', 12),
  line('I ask if you have had enough.', 3),
];

/** What is said of the test before its time is up and after, with the marks it must get. */
export interface FiveSkills {
  readonly spoken: Spoken;
  /** A folder of skills whose rules `cut-short` let the time run out in the last long pause. */
  readonly skills: string;
}

/** Speaks the test, and writes the skills and rules it is marked by into a folder. */
export async function speakFiveSkills(folder: string): Promise<FiveSkills> {
  const spoken = await synthesize({ id: 'five-skills', lines: [...LINES] }, 'joe');
  const skills = path.join(folder, 'skills');
  await cp(SHIPPED_SKILLS, skills, { recursive: true });
  const begun = spoken.lines[0]!.end;
  const [before, after] = spoken.lines.slice(-2);
  const minutes = ((before!.end + after!.start) / 2 - begun) / 60;
  await writeFile(
    path.join(skills, 'rules', 'cut-short.yaml'),
    `schema: 1\nid: cut-short\ntitle: Cut short\nshare: 0.8\noutOfOrderCounts: false\nminutes: ${minutes}\n`,
  );
  return { spoken, skills };
}

/** What must come of it, whoever listens: outcomes by skill and step, and what stands beside them. */
export function summaryOf({ skills, passed, timeUp }: Pick<TestResult, 'skills' | 'passed' | 'timeUp'>) {
  const outcome = (skill: number, step: string) =>
    skills[skill]?.steps.find(({ id }) => id === step)?.outcome;
  return {
    reached: skills.map(({ reached }) => reached),
    passed,
    timeUp: timeUp !== null,
    scrub: outcome(0, 'scrub'),
    rinse: outcome(0, 'rinse'),
    wet: outcome(0, 'wet'),
    repairs: skills.flatMap(({ repairs }) => repairs.map(({ step, slip }) => `${step}: ${slip}`)),
    nails: outcome(0, 'nails'),
    late: skills.flatMap(({ late }) => late.map(({ skill, step }) => `${skill}: ${step}`)),
    knock: outcome(1, 'knock'),
    supported: outcome(2, 'support-knee'),
    gloves: outcome(3, 'gloves-on'),
    criticalMissed: skills[3]?.result.criticalMissed,
    beforeTheTime: outcome(4, 'food-not-hot'),
    afterTheTime: outcome(4, 'enough'),
  };
}

export const EXPECTED: ReturnType<typeof summaryOf> = {
  reached: [true, true, true, true, true],
  passed: false,
  timeUp: true,
  scrub: 'heard',
  rinse: 'heard',
  wet: 'heard',
  repairs: ['wet: out of order'],
  nails: 'not heard',
  late: ['0: nails'],
  knock: 'heard',
  supported: 'heard',
  gloves: 'heard',
  criticalMissed: ['head-up'],
  beforeTheTime: 'heard',
  afterTheTime: 'not heard',
};
