import type { StepMark } from '../marking/assessment.ts';
import { markRehearsal } from '../marking/result.ts';
import { truthOf } from '../marking/simulated.ts';
import type { State } from '../marking/state.ts';
import type { Checklist } from '../skills/checklist.ts';
import { readingName } from '../skills/readingName.ts';
import type { Rules, Step } from '../skills/skill.ts';
import { isWithin, toleranceOf } from '../skills/tolerance.ts';
import type { Review, Reviewed } from './review.ts';

/** A reading as it was said, beside what a person measured. */
export interface Measure {
  /** What is read, as people call it. */
  readonly name: string;
  readonly unit: string;
  /** Null where no number was heard. */
  readonly said: number | null;
  /** What a person measured, else what a simulated resident had; null where there is neither. */
  readonly truth: number | null;
  /** Who has: a reviewer, whose number goes first, who rehearsed, or somebody beside them; else a simulated resident had it. */
  readonly measuredBy: 'reviewer' | 'rehearser' | 'simulated resident' | null;
  /** How far the two may lie apart by the rules; null where they do not say. */
  readonly tolerance: number | null;
  /** Null while one of the three is missing. */
  readonly within: boolean | null;
}

/** A step with the machine's mark and the person's beside each other. */
export interface Row {
  readonly step: string;
  readonly text: string;
  readonly critical: boolean;
  /** Null where this version of the skill has no such step any more. */
  readonly mark: StepMark | null;
  readonly verdict: Reviewed | null;
  /** Of a step with a reading. */
  readonly measure: Measure | null;
}

/**
 * The machine's marks beside the person's, in the order of the checklist; last the verdicts on steps that this version does not have.
 * The machine's side follows from the checklist, the person's from the review alone: under another version, only the first changes.
 */
export function sideBySide(checklist: Checklist, state: State, review: Review): Row[] {
  const { steps } = markRehearsal(checklist, state);
  const rows = steps.map((mark): Row => ({
    step: mark.id,
    text: mark.text,
    critical: mark.critical,
    mark,
    verdict: review.verdicts.get(mark.id) ?? null,
    measure: measureOf(checklist, state, review, mark.id),
  }));
  const known = new Set(steps.map(({ id }) => id));
  const gone = [...review.verdicts.values()].filter(({ step }) => !known.has(step));
  return [
    ...rows,
    ...gone.map((verdict): Row => ({
      step: verdict.step,
      text: verdict.step,
      critical: false,
      mark: null,
      verdict,
      measure: null,
    })),
  ];
}

function measureOf(checklist: Checklist, state: State, review: Review, id: string): Measure | null {
  const step = checklist.steps.find((each) => each.id === id);
  if (step?.evidence.kind !== 'reading') return null;
  const { unit, which } = step.evidence;
  const said = state.readings[id]?.value ?? null;
  const { truth, measuredBy } = measuredOf(review, id, residentsTruth(checklist, state, step));
  const tolerance = toleranceOf(checklist.rules, unit);
  const isKnown = said !== null && truth !== null && tolerance !== null;
  const within = isKnown ? isWithin(said, truth, tolerance) : null;
  return { name: readingName(unit, which), unit, said, truth, measuredBy, tolerance, within };
}

function residentsTruth(checklist: Checklist, state: State, step: Step): number | null {
  const had = truthOf(checklist, state, step);
  return had === null || had === 'not measured' ? null : had.value;
}

function measuredOf(
  review: Review,
  step: string,
  residents: number | null,
): Pick<Measure, 'truth' | 'measuredBy'> {
  const reviewers = review.measured.get(step);
  if (reviewers !== undefined) return { truth: reviewers, measuredBy: 'reviewer' };
  const rehearsers = review.measuredByRehearser.get(step);
  if (rehearsers !== undefined) return { truth: rehearsers, measuredBy: 'rehearser' };
  return { truth: residents, measuredBy: residents === null ? null : 'simulated resident' };
}

/** The numbers that persons measured, by step, where the rules say how far a said one may lie from them: what readings are held against. */
export const measuredIn = (rows: readonly Row[]): Record<string, number> =>
  Object.fromEntries(
    rows.flatMap(({ step, measure }) =>
      measure && isPersons(measure) && measure.truth !== null && measure.tolerance !== null
        ? [[step, measure.truth]]
        : [],
    ),
  );

/** A simulated resident's numbers marking knows by itself. */
const isPersons = ({ measuredBy }: Measure): boolean => measuredBy !== 'simulated resident';

/** The steps of this version on which no person has given a verdict. */
export const openRows = (rows: readonly Row[]): Row[] =>
  rows.filter(({ mark, verdict }) => mark !== null && verdict === null);

/** Those of them that words cannot show: somebody must have watched. */
export const needingEyes = (rows: readonly Row[]): Row[] =>
  openRows(rows).filter(({ mark }) => mark?.outcome === 'needs eyes');

/** What an attempt came to by the person's verdicts alone. */
export interface PersonsResult {
  /** Null while a step has no verdict. An unsure verdict is no pass of a step. */
  readonly passed: boolean | null;
  readonly yes: number;
  readonly of: number;
  /** Ids of the critical steps with a verdict other than yes. */
  readonly criticalMissed: readonly string[];
}

/** By the same rules as the machine's marks, but with the steps that need eyes: a person may have seen them. */
export function personsResult(rows: readonly Row[], rules: Rules): PersonsResult {
  const asked = rows.filter(({ mark }) => mark !== null);
  const yes = asked.filter(({ verdict }) => verdict?.verdict === 'yes').length;
  const criticalMissed = asked
    .filter(({ critical, verdict }) => critical && verdict !== null && verdict.verdict !== 'yes')
    .map(({ step }) => step);
  const isDone = openRows(rows).length === 0;
  return {
    passed: isDone ? criticalMissed.length === 0 && yes >= rules.share * asked.length : null,
    yes,
    of: asked.length,
    criticalMissed,
  };
}
