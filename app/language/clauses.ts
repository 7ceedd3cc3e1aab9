import type { Token } from './words.ts';

/** A stretch of tokens with one verb and one subject, roughly. */
export interface Clause {
  readonly from: number;
  readonly to: number;
  /** Number of the sentence it belongs to. */
  readonly sentence: number;
}

/** The clause that a token stands in. Throws a RangeError for a token that stands in none. */
export function clauseAt(clauses: readonly Clause[], token: number): Clause {
  const clause = clauses.find((c) => token >= c.from && token < c.to);
  if (!clause)
    throw new RangeError(`No clause holds token ${token}; they end at ${clauses.at(-1)?.to ?? 0}.`);
  return clause;
}

/** From the first token of a clause's sentence to one past its last. */
export function sentenceAround(
  clauses: readonly Clause[],
  { sentence }: Clause,
): { from: number; to: number } {
  const own = clauses.filter((c) => c.sentence === sentence);
  return { from: Math.min(...own.map(({ from }) => from)), to: Math.max(...own.map(({ to }) => to)) };
}

/** Words after which "I" goes on with the clause instead of opening a new one. */
const HOLDS_SUBJECT = new Set(
  (
    'am is are was were do does did have has had will would shall should can could may might must ' +
    'if when whenever before after until unless because that what as while since where how which whether once ' +
    'and but so then now next first okay ok'
  ).split(' '),
);
const CONNECTS = new Set('and but so then because now next first okay ok'.split(' '));
const SUBORDINATES = new Set('before until unless instead'.split(' '));
const OPENS_AFTER_SO = new Set('you your it the they that this there nobody no he she his her'.split(' '));
const DANGLES = new Set('to not the a an my and or if of i never no without'.split(' '));

/** Auxiliary verbs, for patterns. */
export const AUX = 'am|is|are|was|were|do|does|did|have|has|had|would|should|can|could|may|might|must';
const AUXILIARY = new RegExp(`^(?:${AUX})$`);

/** Cuts a token list into clauses: at punctuation, before a new subject, and before "before", "after", "until"… */
export function splitClauses(tokens: readonly Token[]): Clause[] {
  const cuts = new Map<number, boolean>(); // cut before this token → whether a sentence ends there
  const cut = (at: number): void => void (at > 0 && !cuts.has(at) && cuts.set(at, false));
  tokens.forEach((token, i) => {
    if (isEnd(tokens, i)) cuts.set(i + 1, token.ends !== ',');
    if (token.word === 'i' || token.word === 'we') cut(newSubjectAt(tokens, i));
    if (opensClause(tokens, i)) cut(i);
  });
  const starts = [0, ...[...cuts.keys()].sort((a, b) => a - b)];
  let sentence = 0;
  return starts
    .map((from, i) => {
      if (cuts.get(from) === true) sentence += 1;
      return { from, to: starts[i + 1] ?? tokens.length, sentence };
    })
    .filter((clause) => clause.to > clause.from);
}

/** Whether the mark after a token ends a clause. Recognisers put full stops into pauses: "I forgot to. Check the band." is one sentence. */
function isEnd(tokens: readonly Token[], i: number): boolean {
  const [before, token, next] = [tokens[i - 1], tokens[i], tokens[i + 1]];
  if (!token || !next || token.ends === '') return false;
  // "No, …" and "no they are not." are over.
  const isNo = token.word === 'no' && token.ends === ',' && before?.ends !== '';
  const isReply = token.word === 'not' && tokens[i - 3]?.word === 'no';
  const isDangling = token.ends !== '?' && DANGLES.has(token.word) && !isReply && !isNo;
  const isCourtesy = token.ends === ',' && next.word === 'please';
  return !isDangling && !isCourtesy;
}

/** Where the clause begins whose subject is the "I" at `i`, with the words that join it to the one before; 0 where it opens none. */
function newSubjectAt(tokens: readonly Token[], i: number): number {
  const wordAt = (at: number): string => tokens[at]?.word ?? '';
  let at = i;
  while (CONNECTS.has(wordAt(at - 1))) at -= 1;
  return HOLDS_SUBJECT.has(wordAt(at - 1)) ? 0 : at;
}

/** Whether a word opens a clause by itself. */
function opensClause(tokens: readonly Token[], i: number): boolean {
  const [before = '', word, next = '', third] = [-1, 0, 1, 2].map((k) => tokens[i + k]?.word);
  switch (word) {
    case 'but':
    case 'because':
      return true;
    case 'and':
      // "I am your aide and don't you mind the noise": what is denied comes after the "and".
      return third === 'not' && AUXILIARY.test(next);
    case 'so':
      return OPENS_AFTER_SO.has(next);
    case 'after':
      // "I'm after wetting my hands": an Irish perfect.
      return !(before === 'am' && next.endsWith('ing'));
    default:
      return word !== undefined && SUBORDINATES.has(word);
  }
}
