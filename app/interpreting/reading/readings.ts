import type { Evidence } from '../../marking/assessment.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import type { Utterance } from '../../language/utterance.ts';
import type { Reading as ReadBefore, State } from '../../marking/state.ts';
import type { Step } from '../../skills/skill.ts';
import { sentenceAt, type Hearing, type Span } from '../hearing.ts';
import { numbersSaid, pairOf, weighedNumbers, type NumberSaid, type ReadingAsked } from './numbersSaid.ts';

/** Which number is the reading, and whether it is believed, asked about, or only noted. */

/**
 * Share from which a number is believed without asking, and what is left for its rivals. Chosen with the number
 * sentences of the speech corpus: at 0.8 the first silently wrong readings appear at 5 dB; at 0.97 clean ones are asked.
 */
const SURE_SHARE = 0.9;

/** Seconds after a number, or after it was read back, in which what is said may answer it: a slow answer, with a second thought. */
export const ANSWER_WITHIN = 20;

/** Whether a step's number has been read back and an utterance comes in time to answer. */
export const isReadBack = (readBack: State['readBack'], { start }: Utterance, step: string): boolean =>
  readBack !== null &&
  start - readBack.at <= ANSWER_WITHIN &&
  readBack.readings.some((each) => each.step === step);

/** The event of a number that was said. */
export type Reading = RehearsalEvent & { readonly type: 'reading' };

/** How a number came to be said, where one was read before. */
export interface Saying {
  /** What was read of the step before; undefined for nothing. */
  readonly before: ReadBefore | undefined;
  /** Whether it puts the one before right: in a correction, or as the answer to the coach's asking. */
  readonly corrects: boolean;
  /** Whether a number that cannot be meant is asked about even without its unit. */
  readonly asksOfAny: boolean;
}

/** The number said with a reading: the first or last one in its sentence that can be meant, held against what was read before. */
export function readNumber(
  step: Step,
  hearing: Hearing,
  span: Span,
  evidence: Evidence,
  saying: Saying,
): Reading | null {
  if (step.evidence.kind !== 'reading') return null;
  const all = numbersSaid(step.evidence, hearing, sentenceAt(hearing, span.to - 1));
  const number = chosen(step.evidence, hearing, all, saying);
  return number && readingOf(step, hearing, number, evidence, saying);
}

/** The number that is meant; one that cannot be is taken where it has the step's unit, or any will do. */
function chosen(
  asked: ReadingAsked,
  hearing: Hearing,
  all: readonly NumberSaid[],
  { asksOfAny }: Saying,
): NumberSaid | null {
  const which = asked.which === 'first' ? 0 : -1;
  const pair = asked.unit === 'mmHg' ? pairOf(hearing, all) : null;
  if (pair) return pair.at(which) ?? null;
  const can = all.filter((number) => canBe(asked, number)).at(which);
  if (can) return can;
  const own = all.filter(({ unit }) => unit === 'own' || unit === 'same quantity').at(which);
  return own ?? (asksOfAny ? (all.at(which) ?? null) : null);
}

/** Whether a number may be meant: within what the step allows, in a unit of its quantity or in none. */
const canBe = ({ from, to }: ReadingAsked, { value, unit }: NumberSaid): boolean =>
  unit !== 'other' && value >= from && value <= to;

/** A number as the reading of a step. */
export function readingOf(
  step: Step,
  hearing: Hearing,
  number: NumberSaid,
  evidence: Evidence,
  { before, corrects }: Saying,
): Reading | null {
  if (step.evidence.kind !== 'reading') return null;
  const { value, said } = number;
  const rivals = rivalsOf(step.evidence, number);
  const isClear = isHeardClearly(step.evidence, hearing, number);
  const why = number.unit === 'other' ? 'other unit' : whyAsked(step.evidence, number, isClear);
  const heard = { type: 'reading', step: step.id, value, evidence, ...(said && { said }) } as const;
  const asked = (why: NonNullable<Reading['why']>, others = rivals): Reading => ({
    ...heard,
    sure: false,
    rivals: others.filter((rival) => rival !== value),
    why,
  });
  // A number without its unit that cannot be meant takes nothing back.
  if (before && why !== null && why !== 'unclear' && number.unit === 'none' && !corrects) return null;
  const isSame = before?.value === value && why !== 'other unit';
  const isSaidAgain = isSame && before.evidence.utterance !== evidence.utterance;
  if (isSame && !isSaidAgain && (before.why === 'changed' || before.why === 'unusual'))
    return asked(before.why, [...before.rivals]);
  if (isSame && before.sure) return { ...heard, sure: true, rivals: [] };
  if (isSaidAgain && isClear) return { ...heard, sure: true, rivals: [] };
  if (why !== null) return asked(why, before?.sure ? [...new Set([...rivals, before.value])] : rivals);
  const isBack = before?.why === 'changed' && before.rivals.includes(value);
  const isChanged = before !== undefined && (before.sure || before.why === 'changed') && !isBack;
  return isChanged && !corrects ? asked('changed', [before.value]) : { ...heard, sure: true, rivals };
}

function whyAsked(
  { from, to }: ReadingAsked,
  { value }: NumberSaid,
  isClear: boolean,
): 'unusual' | 'unclear' | null {
  if (value < from || value > to) return 'unusual';
  return isClear ? null : 'unclear';
}

/** Other values that the sound fits and that the step allows. */
const rivalsOf = ({ from, to }: ReadingAsked, { rivals }: NumberSaid): number[] =>
  rivals
    .filter(({ value, share }) => value >= from && value <= to && share > 1 - SURE_SHARE)
    .map((r) => r.value);

/** A number that the engine could not weigh against its rivals, or that stands right beside another one, is not heard clearly. */
function isHeardClearly({ from, to }: ReadingAsked, hearing: Hearing, number: NumberSaid): boolean {
  const isPossible = (value: number): boolean => value >= from && value <= to;
  // What the reading cannot be ("80 breaths") takes nothing from it. What is missing from a sum of 1 does: those are
  // hearings that found no number at all.
  const impossible = isPossible(number.value)
    ? number.rivals.filter(({ value }) => !isPossible(value)).reduce((sum, { share }) => sum + share, 0)
    : 0;
  return isAlone(hearing, number) && number.share >= SURE_SHARE * (1 - impossible);
}

/** "One eight, eighteen" says it twice; "one eight, eighty" was misheard. */
function isAlone(hearing: Hearing, { from }: NumberSaid): boolean {
  const numbers = weighedNumbers(hearing);
  const own = numbers.find((n) => n.from === from);
  if (!own) return false;
  const besides = numbers.filter((n) => n.to === own.from || n.from === own.to);
  return besides.every(({ value }) => value === own.value) || isSpelled(own, numbers);
}

/** Whether a number's own digits were said one by one just before it: "one eight, eighteen". */
function isSpelled(
  { value, from }: Pick<NumberSaid, 'value' | 'from'>,
  numbers: ReturnType<typeof weighedNumbers>,
): boolean {
  const digits = String(value);
  const before = numbers.filter((n) => n.to <= from).slice(-digits.length);
  return (
    digits.length > 1 &&
    before.map((n) => n.value).join('') === digits &&
    before.every((n, i) => (before[i + 1]?.from ?? from) - n.to <= 1)
  );
}
