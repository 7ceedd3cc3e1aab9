/** Spoken numbers: what values a run of words holds, written in words, in digits or in both, and how a value is said. */

/** A number in a run of words. */
export interface FoundNumber {
  readonly value: number;
  /** Indexes of words, first and one past the last. */
  readonly from: number;
  readonly to: number;
}

const UNITS = new Map(
  ['zero', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine'].map((word, i) => [
    word,
    i,
  ]),
);
const TEENS = new Map(
  [
    'ten',
    'eleven',
    'twelve',
    'thirteen',
    'fourteen',
    'fifteen',
    'sixteen',
    'seventeen',
    'eighteen',
    'nineteen',
  ].map((word, i) => [word, 10 + i]),
);
const TENS = new Map(
  ['twenty', 'thirty', 'forty', 'fifty', 'sixty', 'seventy', 'eighty', 'ninety'].map((word, i) => [
    word,
    20 + 10 * i,
  ]),
);
const SCALES = new Map([
  ['hundred', 100],
  ['thousand', 1000],
]);

/** Whether a word is a number or part of one, in letters or in figures. */
export const isNumberWord = (word: string): boolean =>
  UNITS.has(word) || TEENS.has(word) || TENS.has(word) || SCALES.has(word) || /^\d+$/.test(word);

/** Part of a word that can belong to a number. Words with a hyphen or a slash have several. */
interface Piece {
  readonly text: string;
  /** The word it is from. */
  readonly word: number;
  /** Whether punctuation or a slash after it ends any number. */
  readonly closes: boolean;
  /** Whether that is a comma only, which recognisers put inside numbers too. */
  readonly comma: boolean;
}

/**
 * The numbers in a run of words, in order. Understands "eighteen", "18.", "1,200", "one hundred (and) eighteen", "a
 * hundred and four", "one eighteen", "one oh four", "eighteen hundred", "98.6", "ninety eight point six", "point five",
 * "142 and a half", "20-second", "118/76". Numbers side by side stay apart where they do not make one by these forms ("one two three" is three
 * numbers); punctuation between them keeps them apart. Ordinals ("first", "2nd") are not numbers. Whether "one" is a
 * number or a pronoun is the caller's to tell. Halves and quarters go with a whole number alone: "half" is also said of beds.
 *
 * @param words as split at white space, with or without their punctuation, in any case
 */
export function findNumbers(words: readonly string[]): FoundNumber[] {
  const pieces = words.flatMap(piecesOf);
  const found: FoundNumber[] = [];
  let at = 0;
  while (at < pieces.length) {
    const number = decimal(pieces, at);
    if (number)
      found.push({
        value: number.value,
        from: pieceAt(pieces, at).word,
        to: pieceAt(pieces, number.next - 1).word + 1,
      });
    at = number?.next ?? at + 1;
  }
  return found;
}

/** Stands before the first piece and after the last one: it is no number, and none goes on past it. */
const NO_PIECE: Piece = { text: '', word: -1, closes: true, comma: false };

const pieceAt = (pieces: readonly Piece[], at: number): Piece => pieces[at] ?? NO_PIECE;

function piecesOf(word: string, index: number): Piece[] {
  const whole = word
    .toLowerCase()
    .replace(/(\d),(?=\d{3}\b)/g, '$1')
    .replace(
      /(^|[\s-])([13]\/[24])(?!\d)/g,
      (_, before: string, fraction: string) => before + signOf(fraction),
    )
    .replace(/(\d)(?=[½¼¾])/g, '$1-')
    .replace(/(\d)(?=(?:mls?|ccs?|oz|lbs?|kgs?|mmhg|bpm)\b)/g, '$1-')
    .replace(/^[^\p{L}\p{N}.]*\.(?=\d)/u, '0.');
  const parts = whole.split(/[-–/]/);
  return parts.flatMap((part, i) => {
    const text = part.replace(/^[^\p{L}\p{N}]+|[^\p{L}\p{N}]+$/gu, '');
    const last = i === parts.length - 1;
    const closes = last ? /[.,;:!?]["')]*$/.test(part) : whole.includes('/');
    return text === '' ? [] : [{ text, word: index, closes, comma: last && part.endsWith(',') }];
  });
}

/** A value read from some pieces, and the piece after them. */
interface Read {
  readonly value: number;
  readonly next: number;
}

/** Whether the piece before `next` lets a number go on. */
function open(pieces: readonly Piece[], next: number): boolean {
  return next < pieces.length && !pieceAt(pieces, next - 1).closes;
}

/** The same after a hundred, where a comma does not keep the rest away: "one hundred, fifteen" is 115. */
function openAfterHundred(pieces: readonly Piece[], next: number): boolean {
  const { closes, comma } = pieceAt(pieces, next - 1);
  return next < pieces.length && (!closes || comma);
}

/** A whole number with what may follow it: "point" and digits, or "and a half". Without a whole number "point five" alone. */
function decimal(pieces: readonly Piece[], at: number): Read | null {
  const whole = wholeNumber(pieces, at);
  if (whole === null) {
    const isSpokenOf = SPEAK_OF_A_POINT.has(pieceAt(pieces, at - 1).text);
    return isSpokenOf ? null : behindPoint(pieces, { value: 0, next: at });
  }
  return (
    (open(pieces, whole.next) ? behindPoint(pieces, whole) : null) ?? withFraction(pieces, whole) ?? whole
  );
}

/** Words after which a point is no decimal one: "at that point two people…". */
const SPEAK_OF_A_POINT = new Set('a the this that some any which each no to'.split(' '));

/** The value with the digits behind a "point" that comes next: one by one, or as "twenty-five". Null where there is none. */
function behindPoint(pieces: readonly Piece[], { value, next }: Read): Read | null {
  const point = pieceAt(pieces, next);
  if (point.text !== 'point' || point.closes || !Number.isInteger(value)) return null;
  let digits = '';
  for (let at = next + 1; at < pieces.length; at++) {
    const { text, closes } = pieceAt(pieces, at);
    const isZero = text === 'oh' || text === 'o';
    const number = isZero ? { value: 0, next: at + 1 } : belowHundred(pieces, at);
    if (number === null || !Number.isInteger(number.value) || (digits !== '' && number.value > 9)) break;
    digits += /^\d+$/.test(text) ? text : String(number.value);
    next = number.next;
    if (closes || pieceAt(pieces, next - 1).closes || number.value > 9) break;
  }
  return digits === '' ? null : { value: Number(`${value}.${digits}`), next };
}

const HALVES: ReadonlyMap<string, number> = new Map([
  ['half', 0.5],
  ['quarter', 0.25],
  ['½', 0.5],
  ['¼', 0.25],
  ['¾', 0.75],
]);

const signOf = (fraction: string): string =>
  new Map([
    ['1/2', '½'],
    ['1/4', '¼'],
    ['3/4', '¾'],
  ]).get(fraction) ?? fraction;

/** The value with a half or quarters that come next: "and a half", "and three quarters", "½". Null where there are none. */
function withFraction(pieces: readonly Piece[], { value, next }: Read): Read | null {
  if (!Number.isInteger(value) || !openAfterHundred(pieces, next)) return null;
  const textAt = (at: number): string => (open(pieces, at) || at === next ? pieceAt(pieces, at).text : '');
  const sign = textAt(next);
  if (/^[½¼¾]$/.test(sign)) return { value: value + (HALVES.get(sign) ?? 0), next: next + 1 };
  if (sign !== 'and') return null;
  const [first, second] = [textAt(next + 1), textAt(next + 2)];
  if (/^(three|3)$/.test(first) && second === 'quarters') return { value: value + 0.75, next: next + 3 };
  const isCounted = /^(a|one|1)$/.test(first);
  const part = HALVES.get(isCounted ? second : first);
  return part === undefined ? null : { value: value + part, next: next + (isCounted ? 3 : 2) };
}

/** Groups of hundreds and thousands, added up. */
function wholeNumber(pieces: readonly Piece[], at: number): Read | null {
  const first = scaled(pieces, at);
  if (first === null) return null;
  let { value, next } = first;
  // What follows must fit into the zeros: "two thousand (one hundred) (and) five".
  for (let room = zeros(value, first.scaled); room > 1 && openAfterHundred(pieces, next);) {
    const skip = pieceAt(pieces, next).text === 'and' ? 1 : 0;
    const more = scaled(pieces, next + skip);
    if (more === null || more.value >= room || more.value === 0) break;
    // "One hundred, two": too short a rest to be sure that it belongs there.
    if (pieceAt(pieces, next - 1).comma && more.value < 10) break;
    value += more.value;
    next = more.next;
    room = more.scaled ? zeros(more.value, true) : 1;
  }
  return { value, next };
}

/** How large a number may follow a value: below its scale. Digits "100" take a remainder as "one hundred" does. */
function zeros(value: number, isScaled: boolean): number {
  if (!isScaled && value % 100 !== 0) return 1;
  if (value === 0) return 1;
  return value % 1000 === 0 ? 1000 : 100;
}

/** A number below 100 or in digits, and the scales after it: "two hundred", "18 hundred", "hundred", "a thousand". */
function scaled(pieces: readonly Piece[], at: number): (Read & { readonly scaled: boolean }) | null {
  const piece = pieceAt(pieces, at);
  const article = piece.text === 'a' && open(pieces, at + 1) && SCALES.has(pieceAt(pieces, at + 1).text);
  const bare = SCALES.has(piece.text);
  const one = { value: 1, next: article ? at + 1 : at };
  const base = article || bare ? one : small(pieces, at);
  if (base === null) return null;
  let { value, next } = base;
  let isScaled = false;
  while ((bare && next === at) || open(pieces, next)) {
    const scale = SCALES.get(pieceAt(pieces, next).text);
    if (scale === undefined || !Number.isInteger(value)) break;
    value *= scale;
    next++;
    isScaled = true;
  }
  return { value, next, scaled: isScaled };
}

/** A number without a scale word. Knows the spoken form that leaves "hundred" out: "one eighteen", "three oh five". */
function small(pieces: readonly Piece[], at: number): Read | null {
  const first = belowHundred(pieces, at);
  if (first === null) return null;
  const { value, next } = first;
  if (value < 1 || value > 9 || !Number.isInteger(value) || !open(pieces, next)) return first;
  const { text } = pieceAt(pieces, next);
  if (text === 'oh' || text === 'o') {
    const unit = unitOf(pieceAt(pieces, next + 1).text);
    return unit === null || pieceAt(pieces, next).closes
      ? first
      : { value: value * 100 + unit, next: next + 2 };
  }
  const rest = belowHundred(pieces, next);
  // "nine ten" is somebody counting.
  if (rest === null || rest.value < 10 || rest.value > 99 || rest.value === value + 1) return first;
  // "two 118" or "one 98.6": the digits are a number of their own.
  if (!Number.isInteger(rest.value)) return first;
  return { value: value * 100 + rest.value, next: rest.next };
}

/** Digits of any length, or words up to ninety-nine. */
function belowHundred(pieces: readonly Piece[], at: number): Read | null {
  const { text } = pieceAt(pieces, at);
  if (/^\d+(\.\d+)?$/.test(text)) return { value: Number(text), next: at + 1 };
  const single = UNITS.get(text) ?? TEENS.get(text);
  if (single !== undefined) return { value: single, next: at + 1 };
  const tens = TENS.get(text);
  if (tens === undefined) return null;
  const unit = open(pieces, at + 1) ? UNITS.get(pieceAt(pieces, at + 1).text) : undefined;
  return unit ? { value: tens + unit, next: at + 2 } : { value: tens, next: at + 1 };
}

function unitOf(text: string): number | null {
  const unit = UNITS.get(text) ?? (/^\d$/.test(text) ? Number(text) : 0);
  return unit === 0 ? null : unit;
}

/**
 * A number in words, as it may be said: "one hundred eighteen", "one hundred and eighteen", "one eighteen", "a hundred
 * and four", "one oh four". One spelling below 100.
 *
 * @param value a whole number, 0–9999
 */
export function spellings(value: number): string[] {
  const rest = value % 100;
  if (value < 100) return [underHundred(value)];
  if (value >= 1000) {
    const below = value % 1000;
    const thousands = `${underHundred(Math.floor(value / 1000))} thousand`;
    if (below === 0) return [thousands];
    return spellings(below).map((s) => `${thousands} ${s}`);
  }
  const hundreds = underHundred(Math.floor(value / 100));
  const forms = rest === 0 ? [`${hundreds} hundred`] : [`${hundreds} hundred ${underHundred(rest)}`];
  if (rest > 0) {
    forms.push(`${hundreds} hundred and ${underHundred(rest)}`);
    // "Nine ten" would be somebody counting.
    if (value !== 910)
      forms.push(`${hundreds} ${rest < 10 ? `oh ${underHundred(rest)}` : underHundred(rest)}`);
  }
  if (value < 200) forms.push(rest === 0 ? 'a hundred' : `a hundred and ${underHundred(rest)}`);
  return forms;
}

function underHundred(value: number): string {
  const name = (names: ReadonlyMap<string, number>, n: number): string =>
    [...names].find(([, v]) => v === n)?.[0] ?? '';
  if (value < 10) return name(UNITS, value);
  if (value < 20) return name(TEENS, value);
  const tens = name(TENS, value - (value % 10));
  return value % 10 === 0 ? tens : `${tens}-${name(UNITS, value % 10)}`;
}
