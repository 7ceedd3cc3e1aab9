import type { RehearsalEvent } from '../marking/events.ts';
import { fold, type State } from '../marking/state.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Step } from '../skills/skill.ts';
import { evidenceOf, type Hearing, type Span } from './hearing.ts';
import { numbersSaid, pairOf } from './numbersSaid.ts';
import { readingOf } from './readings.ts';
import type { Situation } from './situation.ts';

/** Words of an utterance up to which a number without its unit is taken for the one that is due: "so that is sixteen". */
const SHORT = 6;

/**
 * A number said when one is due, in words that credit nothing: asked about, never believed. `told` is what the utterance leads to
 * otherwise.
 */
export function dueReading(
  { checklist, before, hearing }: Situation,
  told: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const isUnderstood = told.some(({ type }) => type !== 'doubted' && type !== 'noted');
  const { carried, tokens } = hearing;
  if (isUnderstood || tokens.length === carried) return [];
  const now = told.reduce(fold, before);
  const span = { from: carried, to: tokens.length };
  return checklist.steps
    .filter((step) => isDue(checklist, now, step))
    .flatMap((step) => askAbout(step, hearing, span));
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

function askAbout(step: Step, hearing: Hearing, span: Span): RehearsalEvent[] {
  if (step.evidence.kind !== 'reading') return [];
  const { from, to, which } = step.evidence;
  const all = numbersSaid(step.evidence, hearing, span).filter(({ unit }) => unit !== 'other');
  const pair = pairOf(hearing, all);
  const number = pair ? pair[which === 'first' ? 0 : 1] : all[0];
  const isOnly = pair !== null || all.length === 1;
  if (!number || !isOnly || number.value < from || number.value > to) return [];
  if (number.unit === 'none' && !pair && span.to - span.from > SHORT) return [];
  const evidence = evidenceOf(hearing, span, 0);
  const reading = readingOf(step, hearing, number, evidence, {
    before: undefined,
    corrects: false,
    asksOfAny: false,
  });
  if (!reading) return [];
  return [
    { type: 'doubted', step: step.id, evidence, why: 'faint' },
    { ...reading, sure: false, why: 'unclear' },
  ];
}
