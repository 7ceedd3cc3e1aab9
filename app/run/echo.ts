import type { Spoken } from '../marking/state.ts';
import { findNumbers, spellings } from '../language/numbers.ts';
import type { Utterance } from '../language/utterance.ts';
import { isFunctionWord, nearlyAlike, piecesOf, tokenize, type Token } from '../language/words.ts';

/**
 * Seconds after the coach's last word in which its voice may still be heard: 0.5 s of reverberation in a small tiled room,
 * 0.25 s by which sound leaves a loudspeaker late, and 0.25 s by which the speech detector may set an end late (88–233 ms
 * were measured). Twice as much begins to swallow the trainee's answers.
 */
const ROOM_TAIL = 1;

/**
 * Share of an utterance's content words that are the coach's, from which all of it is, and up to which none is. Half of the
 * words of a garbled echo are still right; one word in five is shared by chance ("hands", "water") in sayings about the same
 * skill.
 */
const COACH_FROM = 0.6;
const TRAINEE_UP_TO = 0.2;

/** Whose voice an utterance is. */
export type Voice =
  /** Nothing was said over it. */
  | { readonly whose: 'trainee' }
  /** The coach spoke at the same time, and `coach` is what it said; the words are the trainee's. */
  | { readonly whose: 'trainee over coach'; readonly coach: string }
  /** `strange`: content words that are not the coach's. */
  | { readonly whose: 'coach'; readonly strange: number }
  /** `rest` is what is left without the coach's words. */
  | { readonly whose: 'both'; readonly rest: Utterance; readonly strange: number };

/** Tells the trainee's voice from the coach's own, heard back through the microphone. */
export function whoseVoice(spoken: readonly Spoken[], utterance: Utterance): Voice {
  const { start, end, uncertainty } = utterance;
  const over = spoken.filter(
    // What was only written did not sound.
    ({ from, to }) => to > from && start - uncertainty < to + ROOM_TAIL && end + uncertainty > from,
  );
  if (over.length === 0) return { whose: 'trainee' };

  const coach = over.map(({ text }) => text).join(' ');
  const tokens = tokenize(piecesOf(utterance.text));
  const echoed = inOrder(tokens, tokenize(inWordsAndFigures(piecesOf(coach))));
  const content = tokens.flatMap((token, i) => (isFunctionWord(token.word) ? [] : [i]));
  const telling = content.length > 0 ? content : tokens.map((_, i) => i);
  const strange = telling.filter((i) => !echoed.has(i)).length;
  const share = telling.length === 0 ? 1 : 1 - strange / telling.length;
  if (share >= COACH_FROM) return { whose: 'coach', strange };
  if (share <= TRAINEE_UP_TO) return { whose: 'trainee over coach', coach };
  const struck = new Set(tokens.filter((_, i) => echoed.has(i)).map(({ at }) => at));
  return { whose: 'both', rest: withoutWords(utterance, struck), strange };
}

/** The pieces with each number both in words and in figures: a recogniser writes it as it likes. */
function inWordsAndFigures(pieces: readonly string[]): string[] {
  const numbers = findNumbers(pieces);
  return pieces.flatMap((piece, i) =>
    numbers
      .filter(({ to }) => to === i + 1)
      .reduce((all, { value }) => [...all, String(value), ...inWords(value)], [piece]),
  );
}

const inWords = (value: number): string[] =>
  Number.isInteger(value) ? (spellings(value)[0] ?? '').split(/[ -]/) : [];

/** Indexes of the tokens that are the coach's words in the coach's order: a longest common subsequence. */
function inOrder(tokens: readonly Token[], coach: readonly Token[]): Set<number> {
  const alikes = tokens.map((token) => coach.map((c) => alike(token, c)));
  const isSame = (i: number, j: number): boolean => alikes[i]?.[j] ?? false;
  /** Lengths from a token and a word of the coach on; 0 behind the last of either. */
  const rows: number[][] = [];
  const longest = (i: number, j: number): number => rows[i]?.[j] ?? 0;
  for (let i = tokens.length - 1; i >= 0; i -= 1) {
    const row: number[] = (rows[i] = []);
    for (let j = coach.length - 1; j >= 0; j -= 1)
      row[j] = isSame(i, j) ? 1 + longest(i + 1, j + 1) : Math.max(longest(i + 1, j), longest(i, j + 1));
  }
  const found = new Set<number>();
  for (let i = 0, j = 0; i < tokens.length && j < coach.length;) {
    if (isSame(i, j)) {
      found.add(i);
      i += 1;
      j += 1;
    } else if (longest(i + 1, j) >= longest(i, j + 1)) i += 1;
    else j += 1;
  }
  return found;
}

function alike(a: Token, b: Token): boolean {
  if (a.stem === b.stem) return true;
  if (isFunctionWord(a.word) || isFunctionWord(b.word)) return false;
  return nearlyAlike(a.stem, b.stem);
}

/** The numbers go too: what is left of a mixture is asked about, not believed. */
function withoutWords(utterance: Utterance, struck: ReadonlySet<number>): Utterance {
  const left = <T>(list: readonly T[]): T[] => list.filter((_, i) => !struck.has(i));
  const words = left(utterance.words);
  return {
    ...utterance,
    text: left(piecesOf(utterance.text)).join(' '),
    start: words[0]?.start ?? utterance.start,
    end: words.at(-1)?.end ?? utterance.end,
    uncertainty: Math.max(utterance.uncertainty, ...words.map((w) => w.uncertainty)),
    words,
    numbers: [],
  };
}
