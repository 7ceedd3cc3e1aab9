/**
 * Word errors as they are counted everywhere: words substituted, deleted and inserted between what was said and what was
 * recognised, on the best alignment (Levenshtein's, over words), after both have been brought to one spelling.
 */
export interface WordErrors {
  readonly substituted: number;
  readonly deleted: number;
  readonly inserted: number;
  /** Words in the reference. */
  readonly words: number;
}

/** Errors per word of the reference; above 1 when much is inserted. NaN without reference words. */
export function wordErrorRate({ substituted, deleted, inserted, words }: WordErrors): number {
  return (substituted + deleted + inserted) / words;
}

export function addErrors(a: WordErrors, b: WordErrors): WordErrors {
  return {
    substituted: a.substituted + b.substituted,
    deleted: a.deleted + b.deleted,
    inserted: a.inserted + b.inserted,
    words: a.words + b.words,
  };
}

export const NO_ERRORS: WordErrors = { substituted: 0, deleted: 0, inserted: 0, words: 0 };

/**
 * What sclite's alignment weighs: two gaps are dearer than one substitution, and cheaper than two. The one on top lets the
 * fewest errors win among alignments of one weight (three substitutions weigh as much as four gaps): without it the count
 * depended on which text was the reference. sclite leaves such ties to its search, so there it may count one more.
 */
const TIES = 1_000_000;
const SUBSTITUTION = 4 * TIES + 1;
const GAP = 3 * TIES + 1;

/**
 * Counts errors between two texts already split into words, on the alignment that NIST's sclite takes: the cheapest one where
 * a substitution weighs 4 and a deletion or insertion 3, and of these the one with the fewest errors.
 */
export function countErrors(reference: readonly string[], hypothesis: readonly string[]): WordErrors {
  type Cell = readonly [cost: number, substituted: number, deleted: number, inserted: number];
  let row: Cell[] = [[0, 0, 0, 0], ...hypothesis.map((_, j): Cell => [GAP * (j + 1), 0, 0, j + 1])];
  reference.forEach((word, i) => {
    const next: Cell[] = [[GAP * (i + 1), 0, i + 1, 0]];
    hypothesis.forEach((heard, j) => {
      const [cost, s, d, n] = row[j]!;
      const [upCost, upS, upD, upN] = row[j + 1]!;
      const [leftCost, leftS, leftD, leftN] = next[j]!;
      const across: Cell = word === heard ? [cost, s, d, n] : [cost + SUBSTITUTION, s + 1, d, n];
      const up: Cell = [upCost + GAP, upS, upD + 1, upN];
      const left: Cell = [leftCost + GAP, leftS, leftD, leftN + 1];
      const gap = up[0] <= left[0] ? up : left;
      next.push(across[0] <= gap[0] ? across : gap);
    });
    row = next;
  });
  const [, substituted, deleted, inserted] = row.at(-1)!;
  return { substituted, deleted, inserted, words: reference.length };
}

/** Both sides of a pair of texts, normalised and compared. */
export function compareTexts(reference: string, hypothesis: string): WordErrors {
  return countErrors(normalize(reference), normalize(hypothesis));
}

const SPELLINGS: Readonly<Record<string, string>> = {
  ok: 'okay',
  mr: 'mister',
  mrs: 'missus',
  dr: 'doctor',
  gonna: 'going to',
  wanna: 'want to',
  cannot: 'can not',
  "can't": 'can not',
  "won't": 'will not',
  "let's": 'let us',
  alright: 'all right',
};

/** Sounds of hesitation, which a recogniser may rightly leave out: no error whether written or not. */
const HESITATIONS = new Set(['um', 'uh', 'hmm', 'hm', 'mm', 'uhm', 'er', 'erm']);

/** After these words 's is "is"; after any other word it is a possessive and loses its apostrophe. */
const IS_AFTER = new Set('he she it that there here what who where how this everything'.split(' '));

/**
 * One spelling for texts that say the same words: lower case, no punctuation, hyphens as spaces, numbers in words,
 * contractions written out (also in the possessive-looking "curtain's", which stays one word: both sides are treated
 * alike), hesitations left out, "ok", "Mr.", "gonna" and the like spelt in full.
 */
export function normalize(text: string): string[] {
  return text
    .toLowerCase()
    .replace(/[’‘]/g, "'")
    .replace(/(\d),(?=\d{3}\b)/g, '$1')
    .replace(/\d+/g, (digits) => ` ${numberInWords(Number(digits))} `)
    .replace(/[^a-z' ]/g, ' ')
    .split(/\s+/)
    .map((word) => word.replace(/^'+|'+$/g, ''))
    .flatMap((word) => writeOut(word).split(' '))
    .filter((word) => word !== '' && !HESITATIONS.has(word));
}

/** As long as there is something to write out: "d'r" is "dr", and that "doctor". */
function writeOut(word: string): string {
  const written = writeOutOnce(word);
  return written === word ? word : written.split(' ').map(writeOut).join(' ');
}

function writeOutOnce(word: string): string {
  const spelled = Object.hasOwn(SPELLINGS, word) ? SPELLINGS[word] : undefined;
  if (spelled !== undefined) return spelled;
  const [, stem = '', tail = ''] = /^(.*)('s|n't|'m|'re|'ve|'ll|'d)$/.exec(word) ?? [];
  switch (tail) {
    case "'s":
      return IS_AFTER.has(stem) ? `${stem} is` : `${stem}s`;
    case "n't":
      return `${stem} not`;
    case "'m":
      return `${stem} am`;
    case "'re":
      return `${stem} are`;
    case "'ve":
      return `${stem} have`;
    case "'ll":
      return `${stem} will`;
    case "'d":
      return `${stem} would`;
    default:
      return word.replaceAll("'", '');
  }
}

const ONES = (
  'zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen ' +
  'eighteen nineteen'
).split(' ');
const TENS = 'zero ten twenty thirty forty fifty sixty seventy eighty ninety'.split(' ');

/** 118 → "one hundred eighteen". Whole numbers from 0; from a million on, digit by digit. */
export function numberInWords(n: number): string {
  if (n < 20) return ONES[n]!;
  if (n < 100) return `${TENS[Math.floor(n / 10)]}${n % 10 ? ` ${ONES[n % 10]}` : ''}`;
  if (n < 1000) return `${ONES[Math.floor(n / 100)]} hundred${n % 100 ? ` ${numberInWords(n % 100)}` : ''}`;
  if (n < 1_000_000) {
    return `${numberInWords(Math.floor(n / 1000))} thousand${n % 1000 ? ` ${numberInWords(n % 1000)}` : ''}`;
  }
  return [...String(n)].map((digit) => ONES[Number(digit)] ?? '').join(' ');
}
