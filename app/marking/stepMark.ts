import { toleranceOf as toleranceOnBench } from '../bench/readings/reading.ts';
import type { Truth } from '../bench/resident/truth.ts';
import type { Stance } from '../language/stance.ts';
import { mostDirect } from '../skills/manner.ts';
import type { OrderFlag } from '../skills/order.ts';
import type { Rules, Step } from '../skills/skill.ts';
import { isWithin, toleranceOf } from '../skills/tolerance.ts';
import type { Evidence, Outcome, StepMark } from './assessment.ts';
import { judgeRun, longestRun, NEW_CLOCK } from './clocks.ts';
import { repetitions, type MovementCount } from './counts.ts';
import type { Doubt } from './events.ts';
import type { Carried, Reading, State } from './state.ts';
import { minutes } from './testClock.ts';

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

/** What a mark is made of besides the step and how it stands. */
export interface Against {
  readonly rules: Rules;
  /** How the step was out of order. */
  readonly flags: readonly OrderFlag[];
  /** The texts of all steps, by id. */
  readonly titles: ReadonlyMap<string, string>;
  /** The evaluator's own number; a number is taken as it was said without one. */
  readonly evaluator: number | undefined;
  /** What the simulated resident had; null where there is none for this step, or the skill is not over. */
  readonly truth: Truth | 'not measured' | null;
}

/** The part of a mark that is not the step's own. */
interface Verdict {
  readonly outcome: Outcome;
  readonly evidence: Evidence | null;
  readonly note: string;
  readonly manner?: StepMark['manner'];
}

/** The mark of one step. */
export function markStep(step: Step, state: State, against: Against): StepMark {
  const { id, text, critical } = step;
  const { outcome, evidence, note, manner = null } = verdictOn(step, state, against);
  return {
    id,
    text,
    critical,
    outcome,
    at: evidence?.start ?? null,
    evidence: evidence && plainEvidence(evidence),
    manner,
    note,
  };
}

function verdictOn(step: Step, state: State, against: Against): Verdict {
  if (step.evidence.kind === 'eyes') {
    const note = 'Words cannot show this: ask your instructor to watch.';
    return { outcome: 'needs eyes', evidence: null, note };
  }
  const all = state.credits[step.id] ?? [];
  const manner = mostDirect(all.map((credit) => credit.manner));
  // Of the sayings in the most direct manner the first.
  const said = all.find((credit) => credit.manner === manner);
  if (!said) return verdictUnsaid(step, state);

  const measured = measure(step, state, against);
  if (measured.outcome !== 'heard') return { ...measured, evidence: said };
  // Saying afterwards what should have come before puts an order right, but not that of a critical step: its steps must be
  // done again in order, which takes the flag away by itself.
  const repair = state.repairs.findLast((each) => each.step === step.id);
  if (against.flags.length > 0 && (!repair || step.critical))
    return { outcome: 'out of order', evidence: said, note: orderNote(against) };
  const repaired = repair
    ? `Put right in a correction at ${minutes(repair.evidence.start)}; it was ${repair.slip}.`
    : '';
  const told = manner === 'told' ? 'Told, not done.' : '';
  const note = [measured.note, told, repaired].filter(Boolean).join(' ');
  return { outcome: 'heard', evidence: said, note, manner };
}

/** How a step stands that nothing said in the rehearsal credits. */
function verdictUnsaid({ id }: Step, { carried, doubts, notes }: State): Verdict {
  const over = carried[id];
  if (over)
    return { outcome: 'heard', evidence: over.evidence, note: carriedFrom(over), manner: 'carried over' };
  const doubt = doubts[id];
  if (doubt) return { outcome: 'unsure', evidence: doubt.evidence, note: DOUBTS[doubt.why] };
  const stance = notes[id]?.stance ?? 'asserted';
  return { outcome: 'not heard', evidence: null, note: stance === 'asserted' ? '' : STANCES[stance] };
}

const orderNote = ({ flags, titles }: Against): string =>
  flags.map(({ should, other }) => `It should ${should} "${titles.get(other) ?? other}".`).join(' ');

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

interface Measured {
  readonly outcome: 'heard' | 'unsure' | 'not heard';
  readonly note: string;
}

/** What a step asks for beyond having been said. */
function measure({ id, evidence }: Step, state: State, against: Against): Measured {
  const { rules, evaluator } = against;
  switch (evidence.kind) {
    case 'timed':
      return measureTime(timeOf(id, evidence, state));
    case 'counted':
      return measureCount(state.counts.movements[id], evidence.atLeast);
    case 'reading': {
      const reading = state.readings[id];
      const { unit } = evidence;
      const said = measureReading(reading, unit, toleranceOf(rules, unit) ?? 0, evaluator);
      // A person's number goes before the simulated resident's.
      const isSettled = said.outcome !== 'heard' || evaluator !== undefined;
      if (!reading || isSettled || against.truth === null) return said;
      return measureAgainst(against.truth, reading.value, unit, rules);
    }
    default:
      return { outcome: 'heard', note: '' };
  }
}

function measureTime({ clock, run, verdict, required }: ReturnType<typeof timeOf>): Measured {
  if (!run) return { outcome: 'unsure', note: 'Heard to start, not heard to stop: the time is not known.' };
  const open = clock.running ? ' It was started again and not heard to stop.' : '';
  const note = `${run.seconds.toFixed(1)} s heard (± ${run.uncertainty.toFixed(1)} s), ${required} s needed.${open}`;
  if (verdict === 'met') return { outcome: 'heard', note };
  return { outcome: verdict === 'short' ? 'not heard' : 'unsure', note };
}

function measureCount(movement: MovementCount | undefined, atLeast: number): Measured {
  const { sure, most } = repetitions(movement);
  const note = `${sure} of ${atLeast} repetitions heard.`;
  if (sure >= atLeast) return { outcome: 'heard', note };
  return { outcome: most >= atLeast ? 'unsure' : 'not heard', note };
}

/** @param within how far from the evaluator's number it may be */
function measureReading(
  reading: Reading | undefined,
  unit: string,
  within: number,
  evaluator: number | undefined,
): Measured {
  if (!reading) return { outcome: 'unsure', note: 'The number itself was not heard.' };
  const { value, why, said, confirmed } = reading;
  if (why !== null) return { outcome: 'unsure', note: whyAsked(reading, why, unit) };
  if (evaluator !== undefined && !isWithin(value, evaluator, within)) {
    const note = `${value} ${unit}; the evaluator has ${evaluator}, and ${within} either way are allowed.`;
    return { outcome: 'not heard', note };
  }
  const as = said ? `, said as ${said.value} ${said.unit}` : '';
  return { outcome: 'heard', note: `${value} ${unit}${as}${confirmed ? ', confirmed' : ''}.` };
}

/** Why a number is asked about, and what to do, for the trainee. */
function whyAsked({ value, rivals, said }: Reading, why: NonNullable<Reading['why']>, unit: string): string {
  switch (why) {
    case 'unclear': {
      const others = rivals.map((rival) => ` or ${rival}`).join('');
      return `Was it ${value}${others} ${unit}? The number was not heard clearly; say it again.`;
    }
    case 'unusual':
      return `${value} ${unit} would be very unusual. If it is what you mean, say it again.`;
    case 'other unit':
      return `${value} ${said?.unit ?? ''} was heard, where ${unit} are asked for; say it again with its unit.`;
    case 'changed':
      return `${value} was heard after ${rivals.join(' and ')} ${unit}. Say once more which of them you recorded.`;
    case 'taken back':
      return `You took back ${value} ${unit}, and no other number was heard after it; say it again.`;
  }
}

/** A number without more digits than it needs. */
const figure = (value: number): string => String(Math.round(value * 100) / 100);

/** A reading beside what the simulated resident had. Where the words' times leave it open which of two numbers is the truth, it is unsure. */
function measureAgainst(truth: Truth | 'not measured', said: number, unit: string, rules: Rules): Measured {
  const reading = `${figure(said)} ${unit}`;
  if (truth === 'not measured') {
    const note = `${reading}. Nothing was measured on the simulated resident as far as was heard, so there is nothing to compare it with.`;
    return { outcome: 'unsure', note };
  }
  const { value, least, most } = truth;
  const had = `${reading}; the simulated resident had ${figure(value)}`;
  const within = toleranceOnBench(rules, unit);
  if (within === null) return { outcome: 'heard', note: `${had}. These rules name no tolerance.` };
  const note = `${had}, and ${figure(within)} either way ${within === 1 ? 'is' : 'are'} allowed.`;
  const isRight = [least, value, most].map((each) => isWithin(said, each, within));
  if (isRight.every(Boolean)) return { outcome: 'heard', note };
  if (!isRight.some(Boolean)) return { outcome: 'not heard', note };
  const span = `When exactly you started cannot be heard: it may have been ${figure(least)} to ${figure(most)}.`;
  return { outcome: 'unsure', note: `${note} ${span}` };
}

/** The longest go of a timed step, and whether it was long enough. */
export function timeOf(
  id: string,
  { atLeast: required, grace }: Step['evidence'] & { readonly kind: 'timed' },
  state: State,
) {
  const clock = state.clocks[id] ?? NEW_CLOCK;
  const run = longestRun(clock);
  return { clock, run, required, verdict: run ? judgeRun(run, required - grace) : null };
}
