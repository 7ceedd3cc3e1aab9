import { unitAt, converted } from '../../language/units/units.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import { fold, type State } from '../../marking/state.ts';
import type { Checklist } from '../../skills/checklist.ts';
import type { Step } from '../../skills/skill.ts';
import { CLEAR_FROM } from '../doubts.ts';
import { evidenceOf, type Hearing, type Span } from '../hearing.ts';
import { numbersSaid, pairOf, type NumberSaid } from './numbersSaid.ts';
import { readingOf } from './readings.ts';
import type { Situation } from '../situation.ts';

/** Words of an utterance up to which a number that cannot be meant may be the one that is due, misheard: "for the two". One is a pronoun too. */
const SHORT = 6;

/**
 * What is said when a number is due, in words that do not record it: a number is asked about, never believed, and so is its unit alone or
 * unclear speech. `told` is what the utterance leads to otherwise.
 */
export function dueReading(
  { checklist, before, hearing }: Situation,
  told: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const { carried, tokens } = hearing;
  if (tokens.length === carried || told.some(({ type }) => type === 'reading')) return [];
  const now = told.reduce(fold, before);
  const span = { from: carried, to: tokens.length };
  // A number is said as the count ends, too; steps said again are often misheard ones.
  const isTalk = !told.some(
    (event) =>
      event.type === 'movement' ||
      event.type === 'repetition' ||
      (event.type === 'credited' && !(event.step in before.credits)),
  );
  return checklist.steps
    .filter((step) => isDue(checklist, now, step))
    .flatMap((step) => askAbout(now, step, hearing, span, isTalk));
}

/** Whether all that must come before a reading has been said, and the reading itself not. */
function isDue(
  { constraints }: Checklist,
  { readings, credits, carried }: State,
  { id, evidence }: Step,
): boolean {
  const before = constraints.filter(({ later }) => later === id);
  return (
    evidence.kind === 'reading' &&
    !(id in readings) &&
    before.length > 0 &&
    before.every(({ earlier }) => earlier in credits || earlier in carried)
  );
}

function askAbout(
  { credits, doubts }: State,
  step: Step,
  hearing: Hearing,
  span: Span,
  isTalk: boolean,
): RehearsalEvent[] {
  if (step.evidence.kind !== 'reading') return [];
  const { which, unit } = step.evidence;
  const all = numbersSaid(step.evidence, hearing, span).filter((number) => number.unit !== 'other');
  const pair = pairOf(hearing, all);
  const number = pair ? pair[which === 'first' ? 0 : 1] : meant(step, all);
  const evidence = evidenceOf(hearing, span, 0);
  const doubt = { type: 'doubted', step: step.id, evidence, why: 'faint' } as const;
  if (number && (number.unit !== 'none' || isTalk)) {
    const saying = { before: undefined, corrects: false, asksOfAny: false };
    const reading = readingOf(step, hearing, number, evidence, saying);
    return reading ? [doubt, { ...reading, sure: false, why: reading.why ?? 'unclear' }] : [];
  }
  if (step.id in doubts || step.id in credits || !isTalk) return [];
  if (hearing.utterance.confidence < CLEAR_FROM) return [{ ...doubt, why: 'unclear' }];
  const isGarbled = span.to - span.from <= SHORT && all.some(({ value }) => value > 1);
  return isGarbled || (all.length === 0 && namesUnit(hearing, span, unit)) ? [doubt] : [];
}

/** The number that may be meant: the last that the step allows or whose unit is said; none where somebody counts on. */
function meant({ evidence }: Step, all: readonly NumberSaid[]): NumberSaid | undefined {
  if (evidence.kind !== 'reading') return undefined;
  const { from, to } = evidence;
  const isCount =
    all.length > 1 && all.every(({ value }, i) => i === 0 || value === (all[i - 1]?.value ?? 0) + 1);
  if (isCount) return undefined;
  return all.findLast(({ value, unit }) => unit !== 'none' || (value >= from && value <= to));
}

/** Whether words name a unit of what is measured. */
function namesUnit({ tokens }: Hearing, { from, to }: Span, own: string): boolean {
  const words = tokens.slice(from, to).map(({ word }) => word);
  return words.some((_, i) => {
    const found = unitAt(words.slice(i), own);
    return found !== null && converted(1, found.unit, own) !== null;
  });
}
