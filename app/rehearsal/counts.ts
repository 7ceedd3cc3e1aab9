import type { Token } from './words.ts';

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
}

export interface Counts {
  readonly movements: Readonly<Record<string, MovementCount>>;
  /** Movements named since the last number, and those the last number was for. */
  readonly since: readonly string[];
  readonly current: readonly string[];
}

export const NO_COUNTS: Counts = { movements: {}, since: [], current: [] };
const NONE: MovementCount = { full: 0, short: 0, announced: false, number: 0 };

/**
 * A number is taken when it goes up by one, or by two where a short word was lost. A larger leap ("room twelve") is
 * no count. Beyond 2, "three times each way" said beforehand would count as three.
 */
const LARGEST_LEAP = 2;

/** A movement was named. `named` alone (a plan, a question) says which movement the next numbers are for. */
export function nameMovement(counts: Counts, step: string, form: 'full' | 'short' | 'named'): Counts {
  const was = counts.movements[step] ?? NONE;
  const first = was.full + was.short === 0;
  const is: MovementCount =
    form === 'named'
      ? was
      : { ...was, [form]: was[form] + 1, announced: first ? form === 'full' : was.announced };
  const since = counts.since.includes(step) ? counts.since : [...counts.since, step];
  return { ...counts, movements: { ...counts.movements, [step]: is }, since };
}

/** A number, or "again", was said. */
export function sayCount(counts: Counts, count: number | 'again'): Counts {
  const steps = counts.since.length > 0 ? counts.since : counts.current;
  const movements = { ...counts.movements };
  for (const step of steps) {
    const was = movements[step] ?? NONE;
    if (count === 'again') {
      movements[step] =
        was.number > 0 ? { ...was, number: was.number + 1 } : { ...was, short: was.short + 1 };
    } else if (count > was.number && count - was.number <= LARGEST_LEAP) {
      movements[step] = { ...was, number: count };
    }
  }
  return { movements, since: [], current: steps };
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

const SMALL = 'zero one two three four five six seven eight nine ten eleven twelve'.split(' ');
/** Words after which a number is a measure or a plan, not a count. */
const MEASURES =
  /^(second|minut|degre|hour|percent|inch|room|bed|time|repetit|rep|set|more|hand|foot|leg|knee|ankl|of|by)/;

/**
 * The counting words of an utterance, in order: numbers up to twelve said as such, and "again". `busy(i)` says whether
 * token i belongs to something else. A clause with other content of its own ("I have one pillow here") holds no count.
 */
export function findCounts(
  tokens: readonly Token[],
  from: number,
): { readonly at: number; readonly count: number | 'again' }[] {
  const found: { at: number; count: number | 'again' }[] = [];
  for (let i = from; i < tokens.length; i += 1) {
    const { word, stem } = tokens[i]!;
    const next = tokens[i + 1];
    const follows = next && tokens[i]!.ends === '' ? next.stem : '';
    if (
      word === 'again' ||
      stem === 'repeat' ||
      (word === 'more' && follows === 'time') ||
      (word === 'once' && follows === 'more')
    ) {
      // "once more, again" is one more; "again. And again." is two.
      const last = found.at(-1);
      const same =
        last?.count === 'again' && i - last.at <= 2 && tokens.slice(last.at, i).every((t) => t.ends !== '.');
      if (!same) found.push({ at: i, count: 'again' });
      continue;
    }
    const spelled = SMALL.indexOf(word);
    const value = spelled > 0 ? spelled : /^([1-9]|1[0-2])$/.test(word) ? Number(word) : 0;
    if (value > 0) {
      if (!MEASURES.test(follows)) found.push({ at: i, count: value });
    } else if (/^1(2(3(4(5)?)?)?)?$/.test(word) && word.length >= 2) {
      // "one two three" said quickly comes out as "123".
      for (const digit of word) found.push({ at: i, count: Number(digit) });
    }
  }
  return found;
}
