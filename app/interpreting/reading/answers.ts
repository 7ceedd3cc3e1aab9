import type { RehearsalEvent } from '../../marking/events.ts';
import { fold, type State } from '../../marking/state.ts';
import type { Checklist } from '../../skills/checklist.ts';
import type { Step } from '../../skills/skill.ts';
import { CLEAR_FROM } from '../doubts.ts';
import { evidenceOf, overlaps, type Hearing, type Span } from '../hearing.ts';
import { numbersSaid, pairOf, weighedNumbers, type NumberSaid } from './numbersSaid.ts';
import { ANSWER_WITHIN, isReadBack, readingOf } from './readings.ts';
import type { Situation } from '../situation.ts';

/**
 * What is said to a number that was read: "yes", "no, sixteen", "correction: one eighteen over seventy-six", "I mean sixteen",
 * "sixteen". A sentence is one where it holds nothing but such words and numbers.
 */

const words = (list: string): ReadonlySet<string> => new Set(list.split(' '));
const YES = words('yes yeah yep yup right correct exactly affirmative true');
const NO = words('no nope nah wrong incorrect false negative');
/** That another number takes the place of the one before. */
const PUTS_RIGHT = words(
  'no nope wrong incorrect correction sorry oops wait mean meant rather actually make scratch strike mistake',
);
/** With these somebody begins to put right what was read back. */
const OPENS = words('no nope wrong sorry correction wait');
const BESIDE = words(
  'i it is was that the a number reading count should say said to be of my me um uh er well okay ok please not instead than over and so now let correct excuse you again one',
);

/** The answers in an utterance's sentences; `told` is what they lead to otherwise: a sentence that says a number as a whole is none. */
export function answersIn(
  { checklist, before, hearing }: Situation,
  told: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const events: RehearsalEvent[] = [];
  let now = told.reduce(fold, before);
  for (const sentence of sentencesOf(hearing)) {
    if (isTaken(hearing, sentence, told)) continue;
    const open = openSteps(checklist, now, hearing);
    const found = open.length > 0 ? answerOf(now, hearing, sentence, open) : [];
    const answer = found.length > 0 ? found : objection(now, hearing, sentence, told);
    events.push(...answer);
    now = answer.reduce(fold, now);
  }
  return events;
}

/** The sentences of the utterance itself. */
function sentencesOf({ clauses, carried }: Hearing): Span[] {
  const spans = new Map<number, Span>();
  for (const { from, to, sentence } of clauses) {
    const start = spans.get(sentence)?.from ?? Math.max(from, carried);
    if (to > carried) spans.set(sentence, { from: start, to });
  }
  return [...spans.values()];
}

/** Whether a reading that was told rests on some of a sentence's words. */
function isTaken(hearing: Hearing, sentence: Span, told: readonly RehearsalEvent[]): boolean {
  const { start, end } = evidenceOf(hearing, sentence, 1);
  return told.some(
    (event) =>
      event.type === 'reading' &&
      overlaps({ from: start, to: end }, { from: event.evidence.start, to: event.evidence.end }),
  );
}

/** The steps whose numbers can be answered to: those that were read back, else those read last. */
function openSteps({ steps }: Checklist, { readBack, readings }: State, { utterance }: Hearing): Step[] {
  const asked = steps.filter(({ id }) => isReadBack(readBack, utterance, id));
  if (asked.length > 0) return asked;
  const last = Math.max(-Infinity, ...Object.values(readings).map(({ evidence }) => evidence.end));
  if (utterance.start - last > ANSWER_WITHIN) return [];
  const id = Object.values(readings).find(({ evidence }) => evidence.end === last)?.evidence.utterance;
  return steps.filter((step) => readings[step.id]?.evidence.utterance === id);
}

/** What a sentence answers. */
function answerOf(now: State, hearing: Hearing, sentence: Span, open: readonly Step[]): RehearsalEvent[] {
  const spans = open.map((step) => ({ step, numbers: numbersOf(step, hearing, sentence) }));
  const said = wordsBeside(
    hearing,
    sentence,
    spans.flatMap(({ numbers }) => numbers),
  );
  if (said === null) return [];
  const evidence = evidenceOf(hearing, sentence, 1);
  const isAsked = open.some(({ id }) => isReadBack(now.readBack, hearing.utterance, id));
  if (spans.every(({ numbers }) => numbers.length === 0)) {
    const has = (list: ReadonlySet<string>): boolean => said.some((word) => list.has(word));
    if (!isAsked || has(YES) === has(NO)) return [];
    const type = has(YES) ? 'confirmed' : 'taken back';
    return open.filter(({ id }) => mayConfirm(now, id)).map(({ id }) => ({ type, step: id, evidence }));
  }
  const isPutRight = said.some((word) => PUTS_RIGHT.has(word));
  return targets(now, hearing, spans).flatMap(({ step, number, isGuess }) => {
    const before = now.readings[step.id];
    const corrects = isAsked || before?.why === 'taken back';
    // A bare number that nobody has asked for is the one before, said again, or none.
    if (!corrects && !isPutRight && number.value !== before?.value) return [];
    const reading = readingOf(step, hearing, number, evidence, { before, corrects, asksOfAny: true });
    return reading ? [isGuess ? { ...reading, sure: false, why: 'unclear' as const } : reading] : [];
  });
}

/** Words of a sentence up to which a number in it that nothing understood may have been an answer. */
const SHORT = 6;

/**
 * What may have been meant to put right a number that was read back, and was not understood: "I mean for the three". The number is taken
 * back, so that the coach asks again.
 */
function objection(
  { readBack, readings }: State,
  hearing: Hearing,
  sentence: Span,
  told: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const { utterance, tokens } = hearing;
  if (told.some(({ type }) => type === 'credited' || type === 'reading')) return [];
  const said = tokens.slice(sentence.from, sentence.to).map(({ word }) => word);
  const opens = OPENS.has(said[0] ?? '') || said.slice(0, 2).join(' ') === 'i mean';
  const isGarbled =
    said.length <= SHORT && (weighedNumbers(hearing).length > 0 || utterance.confidence < CLEAR_FROM);
  if (!opens && !isGarbled) return [];
  const evidence = evidenceOf(hearing, sentence, 0);
  return (readBack?.readings ?? [])
    .filter(({ step }) => isReadBack(readBack, utterance, step) && step in readings)
    .map(({ step }) => ({ type: 'taken back', step, evidence }));
}

/** A number with the unit of something else cannot be confirmed: it has to be said in the right one. */
const mayConfirm = ({ readings }: State, step: string): boolean => readings[step]?.why !== 'other unit';

const numbersOf = ({ evidence }: Step, hearing: Hearing, sentence: Span): NumberSaid[] =>
  evidence.kind === 'reading' ? numbersSaid(evidence, hearing, sentence) : [];

/** The words of a sentence that are no part of a number; null where one of them is no word of an answer. */
function wordsBeside(hearing: Hearing, { from, to }: Span, numbers: readonly NumberSaid[]): string[] | null {
  // Those that are denied go too: "sixteen, not eighteen".
  const spans = [...numbers, ...weighedNumbers(hearing)];
  const beside = hearing.tokens
    .slice(from, to)
    .filter(({ at }) => !spans.some((number) => at >= number.from && at < number.to))
    .map(({ word }) => word);
  const isKnown = (word: string): boolean => [YES, NO, PUTS_RIGHT, BESIDE].some((list) => list.has(word));
  return beside.every(isKnown) ? beside : null;
}

interface Target {
  readonly step: Step;
  readonly number: NumberSaid;
  /** Whether the number could be another step's. */
  readonly isGuess: boolean;
}

/** Which number is meant for which step: of a pair each its own, one alone for the step whose number it is nearest to. */
function targets(
  { readings }: State,
  hearing: Hearing,
  all: readonly { readonly step: Step; readonly numbers: readonly NumberSaid[] }[],
): Target[] {
  const found = all.flatMap(({ step, numbers }): Target[] => {
    const isFirst = step.evidence.kind === 'reading' && step.evidence.which === 'first';
    const pair = pairOf(hearing, numbers);
    const number = pair ? pair[isFirst ? 0 : 1] : numbers.at(isFirst ? 0 : -1);
    return number ? [{ step, number, isGuess: false }] : [];
  });
  const isShared = found.length > 1 && found.every(({ number }) => number.from === found[0]?.number.from);
  if (!isShared) return found;
  const away = ({ step, number }: Target): number =>
    Math.abs((readings[step.id]?.value ?? Infinity) - number.value);
  return found
    .sort((a, b) => away(a) - away(b))
    .slice(0, 1)
    .map((target) => ({ ...target, isGuess: true }));
}
