/**
 * Spoken numbers: what values a run of words holds, whether it was written in words, in digits or in both, and which
 * other values each is easily taken for when it is heard.
 */

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
 * hundred and four", "one eighteen", "one oh four", "eighteen hundred", "98.6", "ninety eight point six", "20-second",
 * "118/76". Numbers side by side stay apart where they do not make one by these forms ("one two three" is three
 * numbers); punctuation between them keeps them apart. Ordinals ("first", "2nd") are not numbers. Whether "one" is a
 * number or a pronoun is the caller's to tell.
 *
 * @param words as split at white space, with or without their punctuation, in any case
 */
export function findNumbers(words: readonly string[]): FoundNumber[] {
  const pieces = words.flatMap(piecesOf);
  const found: FoundNumber[] = [];
  for (let at = 0; at < pieces.length;) {
    const number = decimal(pieces, at);
    if (number === null) {
      at++;
      continue;
    }
    found.push({
      value: number.value,
      from: pieces[at]!.word,
      to: pieces[number.next - 1]!.word + 1,
    });
    at = number.next;
  }
  return found;
}

function piecesOf(word: string, index: number): Piece[] {
  const parts = word
    .toLowerCase()
    .replace(/(\d),(?=\d{3}\b)/g, '$1')
    .split(/[-–/]/);
  return parts.flatMap((part, i) => {
    const text = part.replace(/^[^\p{L}\p{N}]+|[^\p{L}\p{N}]+$/gu, '');
    const last = i === parts.length - 1;
    const closes = last ? /[.,;:!?]["')]*$/.test(part) : /[/]/.test(word);
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
  return next < pieces.length && !pieces[next - 1]!.closes;
}

/** The same after a hundred, where a comma does not keep the rest away: "one hundred, fifteen" is 115. */
function openAfterHundred(pieces: readonly Piece[], next: number): boolean {
  return next < pieces.length && (!pieces[next - 1]!.closes || pieces[next - 1]!.comma);
}

/** A whole number, and "point" with digits after it. */
function decimal(pieces: readonly Piece[], at: number): Read | null {
  const whole = wholeNumber(pieces, at);
  if (whole === null || !open(pieces, whole.next) || pieces[whole.next]!.text !== 'point') return whole;
  let digits = '';
  let next = whole.next + 1;
  for (; next < pieces.length; next++) {
    const { text } = pieces[next]!;
    const digit = text === 'oh' || text === 'o' ? 0 : (UNITS.get(text) ?? text);
    if (!/^\d+$/.test(String(digit))) break;
    digits += String(digit);
    if (pieces[next]!.closes) {
      next++;
      break;
    }
  }
  return digits === '' ? whole : { value: Number(`${whole.value}.${digits}`), next };
}

/** Groups of hundreds and thousands, added up. */
function wholeNumber(pieces: readonly Piece[], at: number): Read | null {
  const first = scaled(pieces, at);
  if (first === null) return null;
  let { value, next } = first;
  // What follows must fit into the zeros: "two thousand (one hundred) (and) five".
  for (let room = zeros(value, first.scaled); room > 1 && openAfterHundred(pieces, next);) {
    const skip = pieces[next]!.text === 'and' ? 1 : 0;
    const more = scaled(pieces, next + skip);
    if (more === null || more.value >= room || more.value === 0) break;
    // "One hundred, two": too short a rest to be sure that it belongs there.
    if (pieces[next - 1]!.comma && more.value < 10) break;
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
  const piece = pieces[at];
  if (piece === undefined) return null;
  const article = piece.text === 'a' && open(pieces, at + 1) && SCALES.has(pieces[at + 1]!.text);
  const bare = SCALES.has(piece.text);
  const one = { value: 1, next: article ? at + 1 : at };
  const base = article || bare ? one : small(pieces, at);
  if (base === null) return null;
  let { value, next } = base;
  let isScaled = false;
  while (bare && next === at ? true : open(pieces, next)) {
    const scale = SCALES.get(pieces[next]!.text);
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
  const { text } = pieces[next]!;
  if (text === 'oh' || text === 'o') {
    const unit = next + 1 < pieces.length ? unitOf(pieces[next + 1]!.text) : null;
    return unit === null || pieces[next]!.closes ? first : { value: value * 100 + unit, next: next + 2 };
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
  const { text } = pieces[at]!;
  if (/^\d+(\.\d+)?$/.test(text)) return { value: Number(text), next: at + 1 };
  const single = UNITS.get(text) ?? TEENS.get(text);
  if (single !== undefined) return { value: single, next: at + 1 };
  const tens = TENS.get(text);
  if (tens === undefined) return null;
  const unit = open(pieces, at + 1) ? UNITS.get(pieces[at + 1]!.text) : undefined;
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

/** Units that sound alike, and tens whose first syllable does. */
const ALIKE_UNITS = [
  [5, 9],
  [1, 9],
  [6, 8],
  [4, 5],
  [2, 3],
] as const;

/**
 * Values that a heard whole number is easily taken for: teens and tens (13/30, 118/180), a unit or a ten more or less,
 * a lost or added "hundred", units that sound alike (five/nine), syllables lost at either end (24 → 20 or 4; 118 →
 * 100 or 18), twelve/twenty, eleven/seven. Without the value itself; in rising order.
 *
 * @param value a whole number from 0 up; answers none for others
 */
export function rivalsOf(value: number): number[] {
  if (!Number.isInteger(value) || value < 0 || value > 9999) return [];
  const hundreds = value - (value % 100);
  const rivals = new Set(underHundredRivals(value % 100).map((rest) => hundreds + rest));
  const rest = value % 100;
  rivals.add(value + 1).add(value - 1);
  if (hundreds > 0) {
    // "One hundred" swallowed, the rest swallowed, and the hundreds themselves misheard.
    rivals.add(rest).add(hundreds);
    if (value < 1000) {
      rivals.add(value + 100).add(value - 100);
      // "One eighteen" heard as its parts.
      rivals.add(hundreds / 100);
    }
  } else if (value > 0) {
    rivals.add(100 + value);
    if (value < 10) rivals.add(value * 100);
  }
  rivals.delete(value);
  return [...rivals].filter((n) => n >= 0).sort((a, b) => a - b);
}

/**
 * The ten that a teen is taken for, and the other way round: 18 and 80, 113 and 130. Null for numbers without one. Heard
 * numbers err this way more than any other.
 */
export function teenTwin(value: number): number | null {
  if (!Number.isInteger(value) || value < 0) return null;
  const rest = value % 100;
  if (rest >= 13 && rest <= 19) return value - rest + (rest - 10) * 10;
  if (rest >= 30 && rest % 10 === 0) return value - rest + 10 + rest / 10;
  return null;
}

function underHundredRivals(rest: number): number[] {
  const unit = rest % 10;
  const tens = rest - unit;
  const rivals: number[] = [];
  const alike = (n: number): number[] =>
    ALIKE_UNITS.filter(([a, b]) => a === n || b === n).map(([a, b]) => (a === n ? b : a));
  if (rest >= 13 && rest <= 19)
    rivals.push((rest - 10) * 10, (rest - 10) * 10 + unit, unit, ...alike(unit).map((n) => 10 + n));
  if (rest >= 20 && unit === 0) rivals.push(10 + tens / 10);
  if (rest >= 20) {
    rivals.push(
      ...alike(tens / 10).map((n) => n * 10 + unit),
      tens + 10 < 100 ? tens + 10 + unit : tens,
      tens - 10 + unit,
    );
    if (unit > 0) rivals.push(tens, unit, 10 + tens / 10, ...alike(unit).map((n) => tens + n));
    else for (let n = 1; n <= 9; n++) rivals.push(tens + n);
  }
  if (rest < 10) {
    rivals.push(...alike(unit));
    if (unit >= 3) rivals.push(10 + unit, 10 * unit);
    if (unit > 0) rivals.push(20 + unit);
  }
  if (rest === 12) rivals.push(20, 2);
  if (rest === 20) rivals.push(12);
  if (rest === 11) rivals.push(7);
  if (rest === 7) rivals.push(11);
  if (rest === 10) rivals.push(9, 11, 100);
  return rivals.filter((n) => n !== rest);
}
