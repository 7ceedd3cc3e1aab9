import { doubleMetaphone } from 'double-metaphone';
import { stemmer } from 'stemmer';

/** One word of an utterance, ready to be compared. */
export interface Token {
  /** Lower case, without punctuation, contractions written out. */
  readonly word: string;
  readonly stem: string;
  /** Index of the word of the utterance it came from. */
  readonly at: number;
  /** The punctuation mark the recogniser set after it: '' inside a clause, ',' between clauses, '.' or '?' at the end. */
  readonly ends: '' | ',' | '.' | '?';
}

/** The token at an index that must be within the list. Throws a RangeError where it is not. */
export function tokenAt(tokens: readonly Token[], index: number): Token {
  const token = tokens[index];
  if (!token) throw new RangeError(`There is no token ${index}; there are ${tokens.length}.`);
  return token;
}

/** Cuts tokens into parts behind each that ends one; the last part holds what is left, which may be nothing. */
export function splitBehind(tokens: readonly Token[], isEnd: (token: Token) => boolean): Token[][] {
  const parts: Token[][] = [];
  let part: Token[] = [];
  for (const token of tokens) {
    part.push(token);
    if (!isEnd(token)) continue;
    parts.push(part);
    part = [];
  }
  return [...parts, part];
}

/** Words that carry grammar rather than content: they never match by sound and weigh next to nothing. */
const FUNCTION_WORDS = new Set(
  (
    'a an the i me my mine we us our you your yours he him his she her it its they them their this that these those ' +
    'am is are was were be been being do does did done have has had will would shall should can could may might must ' +
    'not no and or but so then than now next first also just please okay ok um uh er erm well right here there ' +
    'of for to with at as by about all any some very too let going go get got want need what which who when where ' +
    'how why if because while before after until both each every one more thing very really only again ' +
    'wait yes hi oh still already alright anything else something'
  ).split(' '),
);

/** Small words that say where something moves: half a content word, since "up" and "down" tell steps apart. */
const PARTICLES = new Set(
  'up down on off in out over under between back away inside outside from toward into onto round'.split(' '),
);

/** Past forms that stemming cannot bring back to their verb. */
const IRREGULAR = new Map(Object.entries({
  dried: 'dry', dries: 'dry', bent: 'bend', held: 'hold', took: 'take', taken: 'take', gave: 'give', given: 'give',
  told: 'tell', made: 'make', ran: 'run', said: 'say', kept: 'keep', left: 'leave', drew: 'draw', drawn: 'draw',
  wrote: 'write', written: 'write', writing: 'write', found: 'find', lay: 'lie', lying: 'lie', laid: 'lie', lies: 'lie',
  put: 'put', putting: 'put', saw: 'see', seen: 'see', felt: 'feel', rose: 'rise', risen: 'rise', towards: 'toward',
  around: 'round', thrown: 'throw', threw: 'throw', knelt: 'kneel', feet: 'foot', wiped: 'wipe', sanitiser: 'sanitizer',
  sanitised: 'sanitize', sanitise: 'sanitize', sanitising: 'sanitize', shutting: 'shut', began: 'begin', begun: 'begin',
})); // prettier-ignore

const CONTRACTIONS = new Map<string, readonly string[]>(
  Object.entries({
    "won't": ['will', 'not'],
    "can't": ['can', 'not'],
    "shan't": ['shall', 'not'],
    "ain't": ['is', 'not'],
    cannot: ['can', 'not'],
    "let's": ['let', 'us'],
    gonna: ['going', 'to'],
    wanna: ['want', 'to'],
    till: ['until'],
    gotta: ['have', 'to'],
    lemme: ['let', 'me'],
    outta: ['out', 'of'],
    em: ['them'],
    "y'all": ['you', 'all'],
  }),
);

const ENDINGS: readonly (readonly [RegExp, string])[] = [
  [/n't$/, 'not'],
  [/'ll$/, 'will'],
  [/'re$/, 'are'],
  [/'ve$/, 'have'],
  [/'d$/, 'would'],
  [/'m$/, 'am'],
];
const IS_CONTRACTED = /^(it|that|this|there|here|what|who|where|how|he|she|everything|nothing|water|name)'s$/;

/** Words that turn a saying into its opposite. */
const NEGATORS = new Set(['not', 'no', 'never', 'nothing', 'without', 'neither', 'nor', 'avoid']);

/**
 * Words a wording of the lexicon is heard without: "inside of the sink", "inside the sink". Fewer than the grammar words,
 * since "first and last name" is not "last name".
 */
const DROPPABLE = new Set(
  'a an the my your his her their our of and to is are am it that me i you we us be'.split(' '),
);

export const isDroppable = (word: string): boolean => DROPPABLE.has(word);
export const isNegator = (word: string): boolean => NEGATORS.has(word);
export const isFunctionWord = (word: string): boolean => FUNCTION_WORDS.has(word);
export const isParticle = (word: string): boolean => PARTICLES.has(word);

/** The form under which a word's inflections meet: "scrubbing" and "scrubs" → "scrub", "dried" → "dry". */
export function stemOf(word: string): string {
  const base = IRREGULAR.get(word) ?? word;
  return FUNCTION_WORDS.has(base) || PARTICLES.has(base) ? base : stemmer(withoutLy(base));
}

/** "slowly" → "slow", "comfortably" → "comfortable", "gently" → "gentle": the manner is what is marked, not its ending. */
function withoutLy(word: string): string {
  if (word.length < 6 || !word.endsWith('ly')) return word;
  return /[bt]ly$/.test(word) ? word.replace(/y$/, 'e') : word.slice(0, -2).replace(/i$/, 'y');
}

/** How words sound when run together. Doubled consonants merge: "call light" and "collide" are both KLT. */
export function soundTogether(stems: readonly string[]): string {
  return doubleMetaphone(stems.join(''))[0].replace(/(.)\1/g, '$1');
}

/**
 * How a word sounds, as Double Metaphone codes (Lawrence Philips, C/C++ Users Journal, June 2000): words with a code
 * in common sound alike.
 */
export function soundsOf(word: string): readonly string[] {
  const known = sounds.get(word);
  if (known) return known;
  const codes = [...new Set(doubleMetaphone(word))].filter((code) => code !== '');
  // Talk may bring ever new words.
  if (sounds.size >= MOST_SOUNDS) sounds.clear();
  sounds.set(word, codes);
  return codes;
}

const sounds = new Map<string, readonly string[]>();
const MOST_SOUNDS = 5000;

/**
 * Levenshtein distance (Soviet Physics Doklady 10, 1966), in letters.
 *
 * @param swap what it costs to put one letter in another's place
 */
export function spellingDistance(
  a: string,
  b: string,
  swap: (x: string, y: string) => number = (x, y) => Number(x !== y),
): number {
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i += 1) {
    const next = [i];
    for (let j = 1; j <= b.length; j += 1) {
      const [above = 0, left = 0, across = 0] = [row[j], next[j - 1], row[j - 1]];
      next.push(Math.min(above + 1, left + 1, across + swap(a.charAt(i - 1), b.charAt(j - 1))));
    }
    row = next;
  }
  return row.at(-1) ?? 0;
}

/**
 * Share of the letters that may differ between a word and a mishearing of it, where the two sound the same ("guard" for
 * "card") and where they do not ("car"): the least that understands the mishearings of commands.test.ts. At 0.5 for the
 * second "read the band" becomes "read the card".
 */
const SAME_SOUND = 0.4;
const OTHER_SOUND = 0.25;

/**
 * Whether one word is likely a mishearing of the other. Good enough where a whole saying must fit word by word, far too
 * generous for a credit. Words under four letters are not compared.
 */
export function nearlyAlike(a: string, b: string): boolean {
  const most = Math.max(a.length, b.length);
  const sounds = soundsOf(a).some((s) => soundsOf(b).includes(s));
  return most >= 4 && spellingDistance(a, b) <= most * (sounds ? SAME_SOUND : OTHER_SOUND);
}

/** A pressure in figures: "118/76" is said "118 over 76". */
const PRESSURE = /(\d{2,3})\/(\d{2,3})/;

/** Lower-case words of a piece of text, contractions written out, "scrubbin'" too. */
export function spellOut(piece: string): string[] {
  return piece
    .toLowerCase()
    .replaceAll('’', "'")
    .replace(PRESSURE, '$1 over $2')
    .replace(/(?<=\p{L}{2}in)'(?!\p{L})/gu, 'g')
    .split(/[\s\-–—/…]+|\.{2,}/)
    .flatMap((raw) => {
      const word = raw.replace(/^[^\p{L}\p{N}]+|[^\p{L}\p{N}]+$/gu, '');
      if (word === '') return [];
      const whole = CONTRACTIONS.get(word);
      if (whole) return whole;
      for (const [ending, meaning] of ENDINGS) {
        if (ending.test(word)) return [word.replace(ending, ''), meaning];
      }
      if (IS_CONTRACTED.test(word)) return [word.slice(0, -2), 'is'];
      return [word.replace(/'s?$/, '').replaceAll("'", '')];
    });
}

/** A text with a capital at its beginning. */
export const capitalised = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** The pieces of a text between white space, with their punctuation: as many as an utterance of it has words. */
export function piecesOf(text: string): string[] {
  return text.split(/\s+/).filter((piece) => piece !== '');
}

/** What one says to go on, between two commas: no clause ends there. */
const FILLER = /^(?:u[hm]+|er+m*|ah|hm+|like),$/i;

/** Whose full stop ends no sentence. */
const TITLE = /^(?:mrs?|ms|dr|st)\.$/i;

/** How a mark ends a word: as a question, as a sentence, with a pause, or not at all. */
function endOf(mark: string): Token['ends'] {
  if (mark.includes('?')) return '?';
  if (/[.!;…]/.test(mark)) return '.';
  return mark === '' ? '' : ',';
}

/** Splits a text's pieces into tokens. A piece may give several tokens ("don't" → do, not) or none ("…"). */
export function tokenize(pieces: readonly string[]): Token[] {
  const tokens: Token[] = [];
  pieces.forEach((text, at) => {
    const spelled = spellOut(text);
    const last = tokens.at(-1);
    if (last?.ends === ',' && FILLER.test(text)) {
      tokens[tokens.length - 1] = { ...last, ends: '' };
      return;
    }
    const mark = TITLE.test(text) ? '' : (/[?!.;:,…—–-]+["')\]]*$/.exec(text)?.[0] ?? '');
    const ends = endOf(mark);
    if (spelled.length === 0) {
      if (last && ends !== '') tokens[tokens.length - 1] = { ...last, ends };
      return;
    }
    spelled.forEach((word, i) => {
      tokens.push({ word, stem: stemOf(word), at, ends: i === spelled.length - 1 ? ends : '' });
    });
  });
  return tokens;
}
