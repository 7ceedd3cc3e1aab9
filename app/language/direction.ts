import { isFunctionWord, isNegator, piecesOf, splitBehind, tokenize, type Token } from './words.ts';

/**
 * From where to where: "from front to back", "away from the body". What goes the other way says something else, though nearly all its words
 * are the same; neither cues nor the learned judge see that reliably.
 */

/** Words between "from" or "to" and the place it is about: "from all of my fingertips". */
const REACH = 3;

interface Way {
  readonly from: ReadonlySet<string>;
  readonly to: ReadonlySet<string>;
}

const TO = new Set('to toward towards into'.split(' '));

/** Places that are named as a start or an end, as stems. */
function wayIn(tokens: readonly Token[]): Way {
  const from = new Set<string>();
  const to = new Set<string>();
  let isRefused = false;
  tokens.forEach(({ word }, i) => {
    // "Never from back to front" goes the right way.
    if (word === 'from') isRefused = isNegator(tokens[i - 1]?.word ?? '');
    if (isRefused || (word !== 'from' && !TO.has(word))) return;
    const side = word === 'from' ? from : to;
    for (const near of tokens.slice(i + 1, i + 1 + REACH)) {
      if (near.word === 'from' || TO.has(near.word)) break;
      if (!isFunctionWord(near.word)) side.add(near.stem);
      if (near.ends !== '') break;
    }
  });
  return { from, to };
}

/** "Shave in the direction of the growth". */
const ALONG = /\b(?:in|along|with) the (?:direction|grain|growth)\b/;

/** The direction that a step's text asks for: none, along with a growth, or from one place to another. */
export type Direction =
  { readonly kind: 'any' } | { readonly kind: 'along' } | { readonly kind: 'way'; readonly way: Way };

/** What direction a step's text asks for. */
export function directionOf(text: string): Direction {
  if (ALONG.test(text)) return { kind: 'along' };
  return /\bfrom\b/.test(text) ? { kind: 'way', way: wayIn(tokenize(piecesOf(text))) } : { kind: 'any' };
}

const share = (a: ReadonlySet<string>, b: ReadonlySet<string>): boolean => [...a].some((x) => b.has(x));

/**
 * Whether what is said goes the other way than a step asks for: "I wipe from back to front", "against the grain". Where one part of it goes
 * the right way, another part is about another step: "I rinse down to the fingertips, then I dry from the fingertips up".
 */
export function goesAgainst(said: readonly Token[], wanted: Direction): boolean {
  switch (wanted.kind) {
    case 'any':
      return false;
    case 'along':
      return said.some(({ word }) => word === 'against');
    case 'way': {
      const { from, to } = wanted.way;
      const ways = splitBehind(said, ({ ends }) => ends !== '').map(wayIn);
      const isRight = (way: Way): boolean =>
        share(way.from, from) || (way.from.size === 0 && share(way.to, to));
      return !ways.some(isRight) && ways.some((way) => share(way.to, from) || share(way.from, to));
    }
  }
}
