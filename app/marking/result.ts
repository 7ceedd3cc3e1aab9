import { orderFlags } from '../skills/order.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Rules } from '../skills/skill.ts';
import type { Assessment, Outcome, StepMark } from './assessment.ts';
import { repetitions } from './counts.ts';
import { truthOf } from './simulated.ts';
import type { State } from './state.ts';
import { markStep, timeOf } from './stepMark.ts';

export const CAUTION =
  'Practice aid, not a licence to do care. It marks words: heard is not seen, and not heard is not "not done". ' +
  'A trained observer decides. Follow local rules, your programme and licensed staff.';

type Marks = Pick<Assessment, 'steps' | 'clocks' | 'counts' | 'readings' | 'result'>;

/**
 * Marks a rehearsal: an outcome for every step of the checklist, and the result by the rules. Pure.
 *
 * @param evaluator the evaluator's own numbers by step; without one a number is taken as it was said
 */
export function markRehearsal(
  checklist: Checklist,
  state: State,
  evaluator: Readonly<Record<string, number>> = {},
): Marks {
  const { steps, rules, constraints } = checklist;
  const flags = orderFlags(constraints, timesOf(state));
  const titles = new Map(steps.map((s) => [s.id, s.text]));
  const marks = steps.map((step) =>
    markStep(step, state, {
      rules,
      flags: flags.filter((f) => f.step === step.id),
      titles,
      evaluator: evaluator[step.id],
      truth: truthOf(checklist, state, step),
    }),
  );
  return { steps: marks, ...measuresOf(checklist, state), result: resultOf(checklist, marks) };
}

/** Whether a mark is a credit by the rules. An unsure one is none. */
export const isCredit = ({ outcome, critical }: StepMark, rules: Rules): boolean =>
  outcome === 'heard' || (outcome === 'out of order' && rules.outOfOrderCounts && !critical);

/** Whether the rules are met. */
function resultOf({ rules }: Checklist, marks: readonly StepMark[]): Marks['result'] {
  const counts = (mark: StepMark): boolean => isCredit(mark, rules);
  const speakable = marks.filter((m) => m.outcome !== 'needs eyes');
  const heard = speakable.filter(counts).length;
  const criticalMissed = speakable.filter((m) => m.critical && !counts(m)).map((m) => m.id);
  return {
    passed: criticalMissed.length === 0 && heard >= rules.share * speakable.length,
    heard,
    of: speakable.length,
    criticalMissed,
  };
}

/** What was timed, counted and read off. */
function measuresOf(checklist: Checklist, state: State): Pick<Marks, 'clocks' | 'counts' | 'readings'> {
  const { steps } = checklist;
  return {
    clocks: steps.flatMap(({ id, evidence }) => {
      if (evidence.kind !== 'timed') return [];
      const { run, required, verdict } = timeOf(id, evidence, state);
      const { seconds = 0, uncertainty = 0 } = run ?? {};
      return [{ id, seconds, uncertainty, required, met: verdict === 'met' }];
    }),
    counts: steps.flatMap(({ id, evidence }) => {
      if (evidence.kind !== 'counted') return [];
      const counted = repetitions(state.counts.movements[id]).sure;
      const required = evidence.atLeast;
      return [{ id, counted, required, met: counted >= required }];
    }),
    readings: steps.flatMap((step) => {
      const { id, evidence } = step;
      const reading = state.readings[id];
      if (evidence.kind !== 'reading' || !reading) return [];
      const { value, sure, rivals } = reading;
      const truth = truthOf(checklist, state, step);
      const isKnown = truth !== null && truth !== 'not measured';
      return [
        {
          id,
          value,
          unit: evidence.unit,
          at: reading.evidence.start,
          sure,
          rivals: [...rivals],
          ...(isKnown && { truth: truth.value }),
        },
      ];
    }),
  };
}

/** How every step stands, by its id. */
export const outcomesOf = (checklist: Checklist, state: State): ReadonlyMap<string, Outcome> =>
  new Map(markRehearsal(checklist, state).steps.map(({ id, outcome }) => [id, outcome]));

/** When each step was said, seconds; what was carried over was done before all else. */
function timesOf({ credits, carried }: State): Map<string, number[]> {
  const said = Object.entries(credits).map(([id, all]): [string, number[]] => [id, all.map((e) => e.start)]);
  const times = new Map(said);
  for (const id of Object.keys(carried)) times.set(id, [-Infinity, ...(times.get(id) ?? [])]);
  return times;
}
