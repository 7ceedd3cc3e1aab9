import { clauseAt, sentenceAround, splitClauses, type Clause } from '../language/clauses.ts';
import { corrects } from '../language/correction.ts';
import { findMarkers, type Marker } from '../language/polarity.ts';
import type { Utterance, Word } from '../language/utterance.ts';
import { piecesOf, tokenAt, tokenize, type Token } from '../language/words.ts';
import type { Evidence } from '../marking/assessment.ts';

/** A pause up to this long, in seconds, may fall inside one saying ("drying now… from the fingertips up"). */
const PAUSE_INSIDE_SAYING = 1.5;

/** A stretch of tokens: first, and one past the last. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** Whether two stretches have a token in common. */
export const overlaps = (a: Span, b: Span): boolean => a.from < b.to && a.to > b.from;

/** An utterance cut into tokens and clauses, with the utterance before in front where one saying may span both. */
export interface Hearing {
  readonly utterance: Utterance;
  readonly before: Utterance | null;
  readonly tokens: readonly Token[];
  readonly clauses: readonly Clause[];
  readonly markers: readonly Marker[];
  /** Tokens of the utterance before. */
  readonly carried: number;
}

/** @param correcting whether a correction has been asked for that nothing has put right yet */
export function hear(utterance: Utterance, previous: Utterance | undefined, correcting = false): Hearing {
  const joined = previous && utterance.start - previous.end <= PAUSE_INSIDE_SAYING;
  const carried = joined ? tokenize(piecesOf(previous.text)) : [];
  const own = tokenize(piecesOf(utterance.text));
  const tokens = [...carried, ...own];
  const clauses = splitClauses(tokens);
  return {
    utterance,
    before: joined ? previous : null,
    tokens,
    clauses,
    markers: findMarkers(tokens, clauses, correcting || corrects(own)),
    carried: carried.length,
  };
}

/** The words of a span and when they were said. */
export function evidenceOf(
  { utterance, before, tokens, carried }: Hearing,
  span: Span,
  score: number,
): Evidence {
  const first = tokenAt(tokens, span.from).at;
  const end = tokenAt(tokens, span.to - 1).at + 1;
  const words =
    span.from < carried && before
      ? [...before.words.slice(first), ...utterance.words.slice(0, end)]
      : utterance.words.slice(first, end);
  return {
    utterance: utterance.id,
    text: words.map((w) => w.text).join(' '),
    start: words[0]?.start ?? utterance.start,
    end: words.at(-1)?.end ?? utterance.end,
    score: Math.min(1, score),
  };
}

/** The word of an utterance at an index that must be within it. Throws a RangeError where it is not. */
export function wordAt({ words }: Pick<Utterance, 'words'>, index: number): Word {
  const word = words[index];
  if (!word) throw new RangeError(`There is no word ${index}; the utterance has ${words.length}.`);
  return word;
}

/** The whole sentence around a token, without what belongs to the utterance before. */
export function sentenceAt({ clauses, carried }: Hearing, token: number): Span {
  const { from, to } = sentenceAround(clauses, clauseAt(clauses, token));
  return { from: Math.max(carried, from), to };
}
