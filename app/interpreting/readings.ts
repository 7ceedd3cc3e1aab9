import type { Evidence } from '../marking/assessment.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { tokenAt } from '../language/words.ts';
import { sentenceAt, type Hearing, type Span } from './hearing.ts';
import { findNumbers, type FoundNumber } from '../language/numbers.ts';
import type { Step } from '../skills/skill.ts';

/**
 * Share from which a number is believed without asking, and what is left for its rivals. Chosen with the number
 * sentences of the speech corpus: at 0.8 the first silently wrong readings appear at 5 dB; at 0.97 clean ones are asked.
 */
const SURE_SHARE = 0.9;

/** The event of a number that was said. */
export type Reading = RehearsalEvent & { readonly type: 'reading' };

/**
 * The number said with a reading: the first or last one in its sentence that can be meant. A number that the engine could not
 * weigh against its rivals, or that stands right beside another one, is asked about.
 */
export function readNumber(step: Step, hearing: Hearing, span: Span, evidence: Evidence): Reading | null {
  if (step.evidence.kind !== 'reading') return null;
  const { from, to, which } = step.evidence;
  const { tokens, utterance } = hearing;
  const sentence = sentenceAt(hearing, span.to - 1);
  const first = tokenAt(tokens, sentence.from).at;
  const last = tokenAt(tokens, sentence.to - 1).at;
  const numbers =
    utterance.numbers ??
    findNumbers(utterance.words.map((w) => w.text)).map((n) => ({ ...n, share: 0, rivals: [] }));
  const can = (value: number): boolean => value >= from && value <= to;
  const number = numbers
    .filter((n) => n.from >= first && n.to <= last + 1 && can(n.value))
    .at(which === 'first' ? 0 : -1);
  if (!number) return null;
  const rivals = number.rivals.filter((r) => can(r.value) && r.share > 1 - SURE_SHARE).map((r) => r.value);
  // What the reading cannot be ("80 breaths") takes nothing from it. What is missing from a sum of 1 does: those are
  // hearings that found no number at all.
  const impossible = number.rivals.filter((r) => !can(r.value)).reduce((sum, r) => sum + r.share, 0);
  // "One eight, eighteen" says it twice; "one eight, eighty" was misheard.
  const besides = numbers.filter((n) => n.to === number.from || n.from === number.to);
  const alone = besides.every(({ value }) => value === number.value) || isSpelled(number, numbers);
  const sure = alone && number.share >= SURE_SHARE * (1 - impossible);
  return { type: 'reading', step: step.id, value: number.value, sure, rivals, evidence };
}

/** Whether a number's own digits were said one by one just before it: "one eight, eighteen". */
function isSpelled({ value, from }: FoundNumber, numbers: readonly FoundNumber[]): boolean {
  const digits = String(value);
  const before = numbers.filter((n) => n.to <= from).slice(-digits.length);
  return (
    digits.length > 1 &&
    before.map((n) => n.value).join('') === digits &&
    before.every((n, i) => (before[i + 1]?.from ?? from) - n.to <= 1)
  );
}
