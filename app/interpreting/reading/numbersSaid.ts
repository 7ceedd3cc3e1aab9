import { findNumbers, isNumberWord } from '../../language/numbers.ts';
import { converted, isTime, unitAt, unitNamed } from '../../language/units/units.ts';
import type { SpokenNumber } from '../../language/utterance.ts';
import { tokenAt } from '../../language/words.ts';
import type { SaidIn } from '../../marking/events.ts';
import type { Step } from '../../skills/skill.ts';
import type { Hearing, Span } from '../hearing.ts';

/** The numbers of a sentence, each with the unit that was said, as what a step asks to be read. */

export type ReadingAsked = Step['evidence'] & { readonly kind: 'reading' };

/** A number that may be the reading. */
export interface NumberSaid {
  /** In the step's unit where that can be had, else as it was said. */
  readonly value: number;
  readonly rivals: readonly { readonly value: number; readonly share: number }[];
  readonly share: number;
  /** The unit that was said: the step's own, another of the same quantity, one of something else, or none. */
  readonly unit: 'own' | 'same quantity' | 'other' | 'none';
  /** As it was said, where that was in another unit. */
  readonly said: SaidIn | null;
  /** Its words in the utterance, the unit's among them: first, and one past the last. */
  readonly from: number;
  readonly to: number;
}

/** All numbers of the utterance, weighed or not. */
export const weighedNumbers = ({ utterance }: Hearing): readonly SpokenNumber[] =>
  utterance.numbers ??
  findNumbers(utterance.words.map((w) => w.text)).map((n) => ({ ...n, share: 0, rivals: [] }));

/**
 * The numbers of a stretch of tokens that a step may ask for, in order: not those of time ("sixty seconds", "the hand is on the twelve"),
 * nor those that are denied ("not eighteen").
 */
export function numbersSaid(asked: ReadingAsked, hearing: Hearing, span: Span): NumberSaid[] {
  const { tokens } = hearing;
  const first = tokenAt(tokens, span.from).at;
  const end = tokenAt(tokens, span.to - 1).at + 1;
  const within = weighedNumbers(hearing).filter((n) => n.from >= first && n.to <= end);
  const all = within.flatMap((number) => saidIn(asked, hearing, number, end) ?? []);
  return all.reduce<NumberSaid[]>((joined, number) => {
    const before = joined.at(-1);
    const whole = before && poundsAndOunces(asked, hearing, before, number);
    return whole ? [...joined.slice(0, -1), whole] : [...joined, number];
  }, []);
}

/** A number with its unit; null where it is none that could be read. */
function saidIn(
  { unit: own }: ReadingAsked,
  hearing: Hearing,
  number: SpokenNumber,
  end: number,
): NumberSaid | null {
  if (isDenied(hearing, number.from)) return null;
  const { share, rivals, from, to } = number;
  const found = unitAt(wordsBehind(hearing, to, end), own);
  if (!found && isOnTheClock(hearing, number)) return null;
  if (!found) return { value: number.value, rivals, share, unit: 'none', said: null, from, to };
  const { unit } = found;
  if (isTime(unit) && !isTime(own)) return null;
  const value = number.value + halfBehind(hearing, to, found.words, end);
  const inOwn = (n: number): number => converted(n, unit, own) ?? n;
  const isSame = converted(value, unit, own) !== null;
  const isOwn = isSame && inOwn(1000) === 1000;
  return {
    value: inOwn(value),
    rivals: rivals.map((rival) => ({ ...rival, value: inOwn(rival.value) })),
    share,
    unit: sameness(isOwn, isSame),
    said: isOwn ? null : { value, unit },
    from,
    to: Math.min(end, to + found.words),
  };
}

function sameness(isOwn: boolean, isSame: boolean): NumberSaid['unit'] {
  if (isOwn) return 'own';
  return isSame ? 'same quantity' : 'other';
}

/** The lower-case words behind a number: of its own last piece ("20-second", "425ml") and of the pieces after it. */
function wordsBehind({ tokens, carried }: Hearing, to: number, end: number): string[] {
  const own = tokens.slice(carried).filter(({ at }) => at === to - 1);
  const last = own.findLastIndex(({ word }) => isNumberWord(word) || /^\d/.test(word));
  const stuck = /^\d[\d.,]*([a-z]+)$/.exec(own[last]?.word ?? '')?.[1];
  const after = tokens.slice(carried).filter(({ at }) => at >= to && at < end);
  return [
    ...(stuck === undefined ? [] : [stuck]),
    ...[...own.slice(last + 1), ...after].map(({ word }) => word),
  ];
}

/** One half where it is said behind the unit: "142 pounds and a half". */
function halfBehind(hearing: Hearing, to: number, unitWords: number, end: number): number {
  const [first, second, third] = wordsBehind(hearing, to, end).slice(unitWords);
  const isHalf = first === 'and' && (second === 'half' || (second === 'a' && third === 'half'));
  return isHalf ? 0.5 : 0;
}

/** Whether the words before a number take it away: "not eighteen", "rather than eighteen". */
function isDenied({ tokens, carried }: Hearing, from: number): boolean {
  const at = tokens.findIndex((token, t) => t >= carried && token.at >= from);
  const [two, one] = [tokens[at - 2]?.word, tokens[at - 1]?.word];
  return (
    at > carried &&
    (one === 'not' || (one === 'than' && two === 'rather') || (one === 'of' && two === 'instead'))
  );
}

const HANDS = new Set(['hand', 'needle', 'clock', 'watch']);
const PLACES = new Set(['the', 'at', 'on', 'past', 'to', 'from']);

/** Whether a number is a place of a clock's face: "the second hand is on the twelve". */
function isOnTheClock({ tokens, carried }: Hearing, { value, from }: SpokenNumber): boolean {
  const own = tokens.slice(carried);
  const before = own[own.findIndex(({ at }) => at >= from) - 1]?.word ?? '';
  return [3, 6, 9, 12].includes(value) && PLACES.has(before) && own.some(({ stem }) => HANDS.has(stem));
}

/** Pounds with the ounces right behind them as one weight; null where it is none. */
function poundsAndOunces(
  { unit }: ReadingAsked,
  { utterance }: Hearing,
  pounds: NumberSaid,
  ounces: NumberSaid,
): NumberSaid | null {
  const isInPounds = unitNamed(unit) === 'pounds';
  const isPounds = pounds.said ? pounds.said.unit === 'pounds' : pounds.unit === 'own' && isInPounds;
  const between = utterance.words.slice(pounds.to, ounces.from).map(({ text }) => text.toLowerCase());
  const isBehind = between.length === 0 || between.join(' ') === 'and';
  if (!isPounds || ounces.said?.unit !== 'ounces' || !isBehind) return null;
  const value = (pounds.said?.value ?? pounds.value) + ounces.said.value / 16;
  return {
    ...pounds,
    value: converted(value, 'pounds', unit) ?? value,
    share: Math.min(pounds.share, ounces.share),
    said: isInPounds ? null : { value, unit: 'pounds' },
    to: ounces.to,
  };
}

/** Two numbers with "over" between them, the last such pair: "118 over 76". Null where there is none. */
export function pairOf(
  { tokens, carried }: Hearing,
  all: readonly NumberSaid[],
): readonly [NumberSaid, NumberSaid] | null {
  for (let i = all.length - 1; i > 0; i--) {
    const [upper, lower] = [all[i - 1], all[i]];
    if (!upper || !lower) continue;
    const between = tokens.slice(carried).filter(({ at }) => at >= upper.to && at < lower.from);
    const isOver = between.length === 1 && between[0]?.word === 'over';
    // "118/76" is one piece.
    if (isOver || upper.from === lower.from) return [upper, lower];
  }
  return null;
}
