import { findingOf, pairsOf, type Finding } from '../../agreement/pairs.ts';
import { attemptOf, type Attempt, type StepResult } from '../../progress/attempt.ts';
import type { Judged } from '../../records/judged.ts';

/** What is measured in an attempt beside its steps. */
export type Measured = Pick<Attempt, 'clocks' | 'readings' | 'narrated' | 'longestSilence'>;

/** One skill of an attempt as the views have it: a letter a step, a person's verdict before the machine's mark. */
export interface Tried {
  readonly skill: string;
  readonly version: number;
  readonly passed: boolean;
  /** The steps' own names; `marks` and `findings` go with them. */
  readonly steps: readonly string[];
  /** `y` credited, `n` not, `-` not judged. */
  readonly marks: string;
  /** Null where no person has judged a step; the letters are those of {@link FINDINGS}. */
  readonly findings: string | null;
  readonly measured: Measured;
}

/** The letter of what machine and person come to; `-` where there is nothing to compare, or the person could not tell. */
const FINDINGS: Readonly<Record<Finding, string>> = {
  'both yes': 'a',
  'both no': 'd',
  'false credit': 'f',
  miss: 'm',
  open: '-',
};

const NOT_JUDGED = '-';

/** Makes of one skill of an attempt what the views need. Pure. */
export function triedOf({ checklist, state, review }: Judged): Tried {
  // What it is called and whose it is stands in columns of its own.
  const about = { id: '', trainee: null, startedAt: '' };
  const { skill, steps, passed, clocks, readings, narrated, longestSilence } = attemptOf(
    about,
    checklist,
    state,
    review,
  );
  const found = new Map(
    pairsOf({ attempt: '', engine: '' }, checklist, state, review).map((pair) => [
      pair.step,
      FINDINGS[findingOf(pair)],
    ]),
  );
  return {
    skill,
    version: checklist.skill.version,
    passed,
    steps: steps.map(({ step }) => step),
    marks: steps.map(letterOf).join(''),
    findings: found.size === 0 ? null : steps.map(({ step }) => found.get(step) ?? NOT_JUDGED).join(''),
    measured: { clocks, readings, narrated, longestSilence },
  };
}

function letterOf({ credited }: StepResult): string {
  if (credited === null) return NOT_JUDGED;
  return credited ? 'y' : 'n';
}
