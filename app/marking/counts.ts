import { spellings } from '../language/numbers.ts';
import type { Token } from '../language/words.ts';

/**
 * Counting repetitions by ear: "bend… straighten… one… bend… straighten… two", "one, two, three", "that's two",
 * "again". Numbers, where the trainee says them, are believed over the movements named.
 */

export interface MovementCount {
  /** Times the movement was named in full ("I bend the knee") and in short ("bend"). */
  readonly full: number;
  readonly short: number;
  /** Whether the first naming was in full, as when a movement is announced before it is counted. */
  readonly announced: boolean;
  /** The last number said for it; 0 before any. */
  readonly number: number;
  /** Times it was said as it began: the numbers that follow then show that it was done. */
  readonly begun: number;
}

export interface Counts {
  /** What is being moved; null before anything is. */
  readonly joint: string | null;
  readonly movements: Readonly<Record<string, MovementCount>>;
  /** Movements named since the last number, and those the last number was for. */
  readonly since: readonly string[];
  readonly current: readonly string[];
}

export const NO_COUNTS: Counts = { joint: null, movements: {}, since: [], current: [] };
const NONE: MovementCount = { full: 0, short: 0, announced: false, number: 0, begun: 0 };

/**
 * A number is taken when it goes up by one, or by two where a short word was lost. A larger leap ("room twelve") is
 * no count. Beyond 2, "three times each way" said beforehand would count as three.
 */
export const LARGEST_LEAP = 2;

/** The trainee has turned to a joint: what was counted before is for the other one. */
export function turnTo(counts: Counts, joint: string): Counts {
  return counts.joint === joint ? counts : { ...counts, joint, since: [], current: [] };
}

/**
 * A movement was named. `announced` ("I'm going to bend it") and `named` (a question) alone are no repetition: they say which
 * movement the next numbers are for.
 */
export function nameMovement(
  before: Counts,
  step: string,
  joint: string,
  form: 'full' | 'short' | 'announced' | 'named',
): Counts {
  const counts = turnTo(before, joint);
  const was = counts.movements[step] ?? NONE;
  const first = was.full + was.short === 0;
  const is: MovementCount =
    form === 'named' || form === 'announced'
      ? { ...was, begun: was.begun + (form === 'announced' ? 1 : 0) }
      : { ...was, [form]: was[form] + 1, announced: first ? form === 'full' : was.announced };
  const since = counts.since.includes(step) ? counts.since : [...counts.since, step];
  return { ...counts, movements: { ...counts.movements, [step]: is }, since };
}

/** The movements that a number is for: those named since the last one, else those it was for. */
export const beingCounted = ({ since, current }: Counts): readonly string[] =>
  since.length > 0 ? since : current;

/** Whether a total ("three times") goes on from what was counted so far, by one or by a larger leap. */
export function goesOn(counts: Counts, total: number, leap = 1): boolean {
  const steps = beingCounted(counts);
  const from = (step: string): number => counts.movements[step]?.number ?? 0;
  return (
    steps.some((step) => from(step) > 0 && total > from(step) && total - from(step) <= leap) ||
    (total === 1 && steps.length > 0)
  );
}

/** Repetitions that a number goes on from: the last one numbered, or those named before the one that it is for. */
const reached = ({ full, short, number, begun }: MovementCount): number =>
  Math.max(number, full + short + begun - 1);

/** A number, or "again", was said. */
export function sayCount(counts: Counts, count: number | 'again'): Counts {
  const steps = beingCounted(counts);
  const movements = { ...counts.movements };
  for (const step of steps) {
    const was = movements[step] ?? NONE;
    if (count === 'again') {
      movements[step] =
        was.number > 0 ? { ...was, number: was.number + 1 } : { ...was, short: was.short + 1 };
    } else if (count === 1 && repetitions(was).sure > LARGEST_LEAP) {
      // Whoever named so many does not begin to number them: "I was the one, actually".
      continue;
    } else if (count > was.number && count - reached(was) <= LARGEST_LEAP) {
      movements[step] = { ...was, number: count };
    }
  }
  return { ...counts, movements, since: [], current: steps };
}

/** Repetitions to believe, and the most there can have been. They differ when the first naming may be an announcement. */
export function repetitions(count: MovementCount | undefined): {
  readonly sure: number;
  readonly most: number;
} {
  const { full, short, announced, number } = count ?? NONE;
  if (number > 0) return { sure: number, most: number };
  const named = full + short;
  return { sure: announced && short > 0 ? named - 1 : named, most: named };
}

const TIMES = ['', 'once', 'twice', 'thrice'];
/** "First" is one only as in "that's our first.": mostly it says what comes before something else. */
const ORDINALS = [
  '',
  'first',
  'second',
  'third',
  'fourth',
  'fifth',
  'sixth',
  'seventh',
  'eighth',
  'ninth',
  'tenth',
];
const SMALL = Array.from({ length: 13 }, (_, n) => spellings(n)[0] ?? '');
/** Words after which a number is a measure, not a count. */
const MEASURES = /^(second|minut|degre|hour|percent|inch|room|bed|set|more|hand|foot|leg|knee|ankl|of|by)/;

export interface SaidCount {
  /** Index of the token. */
  readonly at: number;
  readonly count: number | 'again';
  /**
   * Counts only where it goes on from the number before: "three times" may be an announcement, and a `homophone` ("too",
   * "free") another word.
   */
  readonly onlyNext: boolean;
  readonly homophone: boolean;
  /** "The third bend": nobody announces it so, and the one before may have been lost. */
  readonly ordinal: boolean;
}

const PLAINLY = { onlyNext: false, homophone: false, ordinal: false } as const;

/** How recognisers write numbers that stand alone, or between movements. */
const HOMOPHONES = new Map([
  ['won', 1],
  ['to', 2],
  ['too', 2],
  ['free', 3],
  ['for', 4],
  ['fore', 4],
  ['ate', 8],
]);

/**
 * The counting words of an utterance from token `from` on, in order: numbers up to twelve said as such, "twice", "third", and
 * "again". Whether their clause is about counting is for the caller to say.
 */
export function findCounts(tokens: readonly Token[], from: number): SaidCount[] {
  const found: SaidCount[] = [];
  for (const [at, token] of tokens.entries()) {
    if (at < from) continue;
    const lead = tokens[at - 1]?.word ?? '';
    const follows = token.ends === '' ? (tokens[at + 1]?.stem ?? '') : '';
    if (!saysAgain(token, follows)) found.push(...numbersAt(token, at, lead, follows));
    else if (!isSameAgain(tokens, found.at(-1), at)) found.push({ at, count: 'again', ...PLAINLY });
  }
  return found;
}

/** @param follows stem of the word after it in the clause */
const saysAgain = ({ word, stem }: Token, follows: string): boolean =>
  word === 'again' ||
  stem === 'repeat' ||
  (word === 'more' && follows === 'time') ||
  ((word === 'once' || word === 'one') && follows === 'more');

/** "Once more, again" is one more; "again. And again." is two. */
const isSameAgain = (tokens: readonly Token[], last: SaidCount | undefined, at: number): boolean =>
  last?.count === 'again' && at - last.at <= 2 && tokens.slice(last.at, at).every((t) => t.ends !== '.');

/** The counts that a word says; several where "one two three" said quickly comes out as "123". */
function numbersAt({ word }: Token, at: number, lead: string, follows: string): SaidCount[] {
  const ordinal = isOrdinal(word, lead, follows);
  const spelled = Math.max(SMALL.indexOf(word), TIMES.indexOf(word), ordinal ? ORDINALS.indexOf(word) : 0);
  const inDigits = /^([1-9]|1[0-2])$/.test(word) ? Number(word) : 0;
  const value = spelled > 0 ? spelled : inDigits;
  if (value > 0) {
    const onlyNext = ordinal || TIMES.includes(word) || /^(time|repetit|rep)$/.test(follows);
    return MEASURES.test(follows) ? [] : [{ ...PLAINLY, at, count: value, onlyNext, ordinal }];
  }
  const homophone = HOMOPHONES.get(word);
  if (homophone !== undefined) return [{ ...PLAINLY, at, count: homophone, onlyNext: true, homophone: true }];
  const isRun = /^123(4(5)?)?$/.test(word);
  return isRun ? [...word].map((digit) => ({ ...PLAINLY, at, count: Number(digit) })) : [];
}

/** Whether a word is an ordinal that counts. "A third of it" is a share, "a third time" a count. */
const isOrdinal = (word: string, lead: string, follows: string): boolean =>
  ORDINALS.includes(word) &&
  (lead !== 'a' || follows === 'time') &&
  (word !== 'first' || (/^(our|the|my|is)$/.test(lead) && follows === ''));
