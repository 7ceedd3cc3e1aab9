import type { Assessment, Evidence, Outcome, StepMark } from './assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import { judgeRun, longestRun, NEW_CLOCK } from './clocks.ts';
import { repetitions } from './counts.ts';
import type { Doubt } from './events.ts';
import { mostDirect } from '../skills/manner.ts';
import { orderFlags, type OrderFlag } from '../skills/order.ts';
import type { Stance } from '../language/stance.ts';
import type { Rules, Step } from '../skills/skill.ts';
import type { Carried, State } from './state.ts';
import { minutes } from './testClock.ts';

export const CAUTION =
  'Practice aid, not a licence to do care. It marks words: heard is not seen, and not heard is not "not done". ' +
  'A trained observer decides. Follow local rules, your programme and licensed staff.';

const DOUBTS: Readonly<Record<Doubt, string>> = {
  faint: 'Only part of it was heard; say the whole step.',
  sounds: 'It sounded like this step, not clearly enough for a critical one; say it again, clearly.',
  unclear: 'The sound was not clear enough; say it again, closer to the microphone.',
  doubt: 'It was said as a doubt; say it as you do it.',
  one: 'Only one of two ways of listening heard it; say it again, clearly.',
  meaning: 'It may have been said; the words and what they seem to mean do not agree. Say it plainly.',
  begun: 'It was announced; say it as you do it.',
  told: 'It was told as what you would do; for this step, say it as you do it.',
};

const STANCES: Readonly<Record<Exclude<Stance, 'asserted'>, string>> = {
  denied: 'It was said as not done.',
  asked: 'It was asked, not said.',
  begun: 'It was announced; say it as you do it.',
  told: 'It was told as what you would do; say it as you do it.',
  hypothetical: 'It was said as an "if" or a "could"; say it as you do it.',
  general: 'It was said as what one does in general; say it as you do it.',
  postponed: 'It was put off; say it as you do it.',
  mentioned: 'It was only mentioned beside another step.',
  reported: 'It was told as what somebody says.',
  addressed: 'It was said to somebody else.',
  doubted: 'It was said as a doubt.',
};

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
  const { steps, rules } = checklist;
  const times = timesOf(state);
  const flags = orderFlags(checklist.constraints, times);
  const titles = new Map(steps.map((s) => [s.id, s.text]));
  const marks = steps.map((step) =>
    markStep(
      step,
      state,
      flags.filter((f) => f.step === step.id),
      titles,
      rules,
      evaluator[step.id],
    ),
  );

  const counts = (mark: StepMark): boolean =>
    mark.outcome === 'heard' || (mark.outcome === 'out of order' && rules.outOfOrderCounts && !mark.critical);
  const speakable = marks.filter((m) => m.outcome !== 'needs eyes');
  const heard = speakable.filter(counts).length;
  const criticalMissed = speakable.filter((m) => m.critical && !counts(m)).map((m) => m.id);
  return {
    steps: marks,
    clocks: steps.flatMap((step) => {
      if (step.evidence.kind !== 'timed') return [];
      const { run, required, verdict } = timeOf(step, state)!;
      return [
        {
          id: step.id,
          seconds: run?.seconds ?? 0,
          uncertainty: run?.uncertainty ?? 0,
          required,
          met: verdict === 'met',
        },
      ];
    }),
    counts: steps.flatMap((step) => {
      if (step.evidence.kind !== 'counted') return [];
      const counted = repetitions(state.counts.movements[step.id]).sure;
      const required = step.evidence.atLeast;
      return [{ id: step.id, counted, required, met: counted >= required }];
    }),
    readings: steps.flatMap((step) => {
      const reading = state.readings[step.id];
      if (step.evidence.kind !== 'reading' || !reading) return [];
      const { value, sure, rivals, evidence } = reading;
      return [
        { id: step.id, value, unit: step.evidence.unit, at: evidence.start, sure, rivals: [...rivals] },
      ];
    }),
    result: {
      passed: criticalMissed.length === 0 && heard >= rules.share * speakable.length,
      heard,
      of: speakable.length,
      criticalMissed,
    },
  };
}

/** How every step stands, by its id. */
export const outcomesOf = (checklist: Checklist, state: State): ReadonlyMap<string, Outcome> =>
  new Map(markRehearsal(checklist, state).steps.map(({ id, outcome }) => [id, outcome]));

function markStep(
  step: Step,
  state: State,
  flags: readonly OrderFlag[],
  titles: ReadonlyMap<string, string>,
  rules: Rules,
  evaluator: number | undefined,
): StepMark {
  const mark = (
    outcome: StepMark['outcome'],
    evidence: Evidence | null,
    note: string,
    manner: StepMark['manner'] = null,
  ): StepMark => ({
    id: step.id,
    text: step.text,
    critical: step.critical,
    outcome,
    at: evidence?.start ?? null,
    evidence: evidence && plainEvidence(evidence),
    manner,
    note,
  });
  if (step.evidence.kind === 'eyes')
    return mark('needs eyes', null, 'Words cannot show this: ask your instructor to watch.');

  const all = state.credits[step.id] ?? [];
  const manner = mostDirect(all.map((credit) => credit.manner));
  // Of the sayings in the most direct manner the first.
  const said = all.find((credit) => credit.manner === manner);
  const carried = state.carried[step.id];
  if (!said && carried) return mark('heard', carried.evidence, carriedFrom(carried), 'carried over');
  if (!said) {
    const doubt = state.doubts[step.id];
    if (doubt) return mark('unsure', doubt.evidence, DOUBTS[doubt.why]);
    const note = state.notes[step.id];
    if (note && note.stance !== 'asserted') return mark('not heard', null, STANCES[note.stance]);
    return mark('not heard', null, '');
  }

  const measured = measure(step, state, rules, evaluator);
  if (measured.outcome !== 'heard') return mark(measured.outcome, said, measured.note);
  // Saying afterwards what should have come before puts an order right, but not that of a critical step: its steps must be
  // done again in order, which takes the flag away by itself.
  const repair = state.repairs.findLast((each) => each.step === step.id);
  if (flags.length > 0 && (!repair || step.critical)) {
    const orders = flags.map(({ should, other }) => `It should ${should} "${titles.get(other) ?? other}".`);
    return mark('out of order', said, orders.join(' '));
  }
  const repaired = repair
    ? [`Put right in a correction at ${minutes(repair.evidence.start)}; it was ${repair.slip}.`]
    : [];
  const told = manner === 'told' ? ['Told, not done.'] : [];
  return mark('heard', said, [measured.note, ...told, ...repaired].filter(Boolean).join(' '), manner);
}

/** When each step was said, seconds; what was carried over was done before all else. */
function timesOf({ credits, carried }: State): Map<string, number[]> {
  const said = Object.entries(credits).map(([id, all]): [string, number[]] => [id, all.map((e) => e.start)]);
  const times = new Map(said);
  for (const id of Object.keys(carried)) times.set(id, [-Infinity, ...(times.get(id) ?? [])]);
  return times;
}

/** "Carried over from Hand washing, 1:12." */
function carriedFrom({ from, evidence, manner }: Carried): string {
  if (!from) return 'Carried over: done before this rehearsal began, as you set it.';
  const when = evidence ? `, ${minutes(evidence.start)}` : '';
  return `Carried over from ${from.title}${when}${manner === 'told' ? '; told, not done' : ''}.`;
}

const plainEvidence = ({ utterance, text, start, end, score }: Evidence): Evidence => ({
  utterance,
  text,
  start,
  end,
  score,
});

/** What a step asks for beyond having been said. */
function measure(
  step: Step,
  state: State,
  { tolerances }: Rules,
  evaluator: number | undefined,
): { outcome: 'heard' | 'unsure' | 'not heard'; note: string } {
  const { evidence } = step;
  switch (evidence.kind) {
    case 'timed': {
      const { clock, run, verdict, required } = timeOf(step, state)!;
      if (!run) {
        return { outcome: 'unsure', note: `Heard to start, not heard to stop: the time is not known.` };
      }
      const open = clock.running ? ' It was started again and not heard to stop.' : '';
      const time = `${run.seconds.toFixed(1)} s heard (± ${run.uncertainty.toFixed(1)} s), ${required} s needed.${open}`;
      if (verdict === 'met') return { outcome: 'heard', note: time };
      return { outcome: verdict === 'short' ? 'not heard' : 'unsure', note: time };
    }
    case 'counted': {
      const { sure, most } = repetitions(state.counts.movements[step.id]);
      const note = `${sure} of ${evidence.atLeast} repetitions heard.`;
      if (sure >= evidence.atLeast) return { outcome: 'heard', note };
      return { outcome: most >= evidence.atLeast ? 'unsure' : 'not heard', note };
    }
    case 'reading': {
      const reading = state.readings[step.id];
      if (!reading) return { outcome: 'unsure', note: 'The number itself was not heard.' };
      const within = tolerances[evidence.unit] ?? 0;
      if (reading.sure && evaluator !== undefined && Math.abs(reading.value - evaluator) > within) {
        const note = `${reading.value} ${evidence.unit}; the evaluator has ${evaluator}, and ${within} either way are allowed.`;
        return { outcome: 'not heard', note };
      }
      if (reading.sure) return { outcome: 'heard', note: `${reading.value} ${evidence.unit}.` };
      const others = reading.rivals.length > 0 ? ` or ${reading.rivals.join(' or ')}` : '';
      return {
        outcome: 'unsure',
        note: `Was it ${reading.value}${others} ${evidence.unit}? The number was not heard clearly; say it again.`,
      };
    }
    default:
      return { outcome: 'heard', note: '' };
  }
}

function timeOf(step: Step, state: State) {
  if (step.evidence.kind !== 'timed') return null;
  const clock = state.clocks[step.id] ?? NEW_CLOCK;
  const run = longestRun(clock);
  const { atLeast: required, grace } = step.evidence;
  return { clock, run, required, verdict: run ? judgeRun(run, required - grace) : null };
}
