import { directionOf, type Direction } from '../language/direction.ts';
import { isFunctionWord, piecesOf, tokenize } from '../language/words.ts';

/** What a step's text asks of the words that say it, beyond its cues. */
export interface StepText {
  /** Whether a denial may say it: "smooth the stocking, so that there are no wrinkles". */
  readonly denies: boolean;
  /** Whether only a denial says it: "do not cut the nails". */
  readonly forbids: boolean;
  /** Stems of what it keeps off: "hot" of "use lukewarm water, never hot". Who says it without a denial says something else. */
  readonly keptOff: ReadonlySet<string>;
  /** Whether words must say that it comes first: "then the strong arm comes out of the gown" does not. */
  readonly comesFirst: boolean;
  readonly direction: Direction;
}

const DENIES = /\b(not|no|never|without|nothing|nobody|avoid|none)\b/i;
const FORBIDS = /^(?:do not|never|avoid)\b/i;
const KEEPS_OFF = /\b(?:not|no|never|without|nothing|avoid)((?: [a-z]+){1,2})/gi;
const COMES_FIRST = /\bfirst\b/;

/** What a step's text asks for. */
export const readStepText = (text: string): StepText => ({
  denies: DENIES.test(text),
  forbids: FORBIDS.test(text),
  keptOff: keptOffBy(text),
  comesFirst: COMES_FIRST.test(text),
  direction: directionOf(text),
});

const keptOffBy = (text: string): ReadonlySet<string> =>
  new Set(
    [...text.matchAll(KEEPS_OFF)].flatMap(([, words = '']) =>
      tokenize(piecesOf(words)).flatMap(({ word, stem }) => (isFunctionWord(word) ? [] : [stem])),
    ),
  );

/** A step's text as who does it says it: "Wet your hands" → "I wet my hands". */
export function inFirstPerson(text: string): string {
  const said = text
    .replace(/\byou are\b/gi, 'I am')
    .replace(/\byourself\b/gi, 'myself')
    .replace(/\byour\b/gi, 'my')
    .replace(/\byou\b/gi, 'I');
  return `I ${said.charAt(0).toLowerCase()}${said.slice(1)}`;
}
