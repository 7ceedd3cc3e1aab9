import { findNumbers } from '../language/numbers.ts';
import {
  capitalised,
  isFunctionWord,
  isNegator,
  soundsOf,
  spellingDistance,
  spellOut,
  stemOf,
} from '../language/words.ts';
import { GATE } from './bias.ts';
import type { EncodedSound, SpeechModel } from './speechModel.ts';

/** Nats by which a word of the skill may be less likely than what was written, where it makes a phrase and where not. */
interface Allowances {
  readonly inPhrase: number;
  /** Null: not at all. */
  readonly alone: number | null;
}

/**
 * For a strange word. On the dev half of the corpus (neural and robotic voices, clean) the best alternatives within these
 * bounds were right 54 times, wrong twice and without harm ("step" → "tap"), and 30 times both words were wrong; from 6 nats
 * on more are wrong than right.
 */
const STRANGE: Allowances = { inPhrase: 5, alone: 4 };
/** For a word that any sentence may have ("Please and watch up" for "Sleeves"). */
const SMALL: Allowances = { inPhrase: 2.5, alone: null };
/** Letters such a word needs: shorter ones ("or", "for") come out as the skill's words too easily. */
const LONGER = 4;

/** Words after the one in question that are scored with it: they tell whether the text can go on. */
const WORDS_AFTER = 2;

/** Alternatives weighed for one word, the most alike first: more cost time, and the right one was among these. */
const MOST_ALTERNATIVES = 12;

/** How far an alternative may be from the word, as a share of the longer one's sound code and letters. */
const FARTHEST_SOUND = 0.5;
const FARTHEST_SPELLING = 0.6;

/** Letters a skill's word needs to be looked for in two words run together: "wrist been" for "wristband". */
const LONG_WORD = 7;

/** The words of the open skill, found by their sound. */
export class SkillWords {
  private readonly stems = new Set<string>();
  /** Stems that stand side by side in a phrase. */
  private readonly pairs = new Set<string>();
  private readonly forms: readonly { readonly form: string; readonly codes: readonly string[] }[];

  constructor(phrases: readonly string[]) {
    const forms = new Set<string>();
    for (const phrase of phrases) {
      const words = spellOut(phrase);
      words.forEach((word, i) => {
        const next = words[i + 1];
        if (next !== undefined && !(isFunctionWord(word) && isFunctionWord(next)))
          this.pairs.add(pairOf(word, next));
        if (isFunctionWord(word) || word.length < 3) return;
        this.stems.add(stemOf(word));
        inflectionsOf(word).forEach((form) => forms.add(form));
      });
    }
    this.forms = [...forms].map((form) => ({ form, codes: soundsOf(form) }));
  }

  /** Whether the skill has nothing to do with a word, and it is none that any sentence may have. */
  isStrange(word: string): boolean {
    return (
      word.length >= 3 &&
      !isFunctionWord(word) &&
      !this.stems.has(stemOf(word)) &&
      findNumbers([word]).length === 0
    );
  }

  makesPhrase(before: string, word: string, after: string): boolean {
    return this.pairs.has(pairOf(before, word)) || this.pairs.has(pairOf(word, after));
  }

  /** The skill's words that sound and are spelled most like some letters. */
  like(letters: string, shortest = 3): string[] {
    const codes = soundsOf(letters);
    return this.forms
      .filter(({ form }) => form.length >= shortest)
      .map(({ form, codes: own }) => {
        const sound = Math.min(...codes.flatMap((a) => own.map((b) => soundShare(a, b))));
        return { form, sound, spelling: spellingShare(letters, form) };
      })
      .filter(({ sound, spelling }) => sound <= FARTHEST_SOUND && spelling <= FARTHEST_SPELLING)
      .sort((a, b) => a.sound + a.spelling - b.sound - b.spelling)
      .slice(0, MOST_ALTERNATIVES)
      .map(({ form }) => form);
  }
}

const pairOf = (a: string, b: string): string => `${stemOf(a)} ${stemOf(b)}`;

const spellingShare = (a: string, b: string): number => spellingDistance(a, b) / Math.max(a.length, b.length);

/** A word with the endings narrators give it. Some are no words; the sound decides against those. */
function inflectionsOf(word: string): string[] {
  if (/(s|ing|ed)$/.test(word)) return [word];
  const stem = /[^aeiou][aeiou][bdgmnpt]$/.test(word) ? word + word.slice(-1) : word.replace(/e$/, '');
  return [word, /(sh|ch|x)$/.test(word) ? `${word}es` : `${word}s`, `${stem}ing`, `${stem}ed`];
}

/** Consonants of the sound codes that are formed alike and easily taken for each other: a swap costs half. */
const KIN = ['MN', 'PTK', 'FS0X', 'LR'];

function swapSounds(x: string, y: string): number {
  if (x === y) return 0;
  return KIN.some((kin) => kin.includes(x) && kin.includes(y)) ? 0.5 : 1;
}

/** Share of a sound code that must change to become another. A single letter of a code is no evidence. */
const soundShare = (a: string, b: string): number =>
  spellingDistance(a, b, swapSounds) / Math.max(a.length, b.length, 2);

/**
 * Puts words of the open skill in the place of words it has nothing to do with, where they sound alike and the sound
 * bears it: "Wedding hands" was "Wetting hands". Numbers and what denies are never touched.
 *
 * @param pieces the text's pieces between white space
 * @returns the pieces, as many or, where two were one word, fewer
 */
export async function respell(
  model: SpeechModel,
  sound: EncodedSound,
  pieces: readonly string[],
  words: SkillWords,
): Promise<string[]> {
  const text = [...pieces];
  for (let at = 0; at < text.length; at++) {
    const wanted = alternativesAt(text, at, words);
    if (wanted.length === 0) continue;
    const start = await model.after(sound, text.slice(0, at));
    const likeliest = start.logits.reduce((most, logit) => Math.max(most, logit));
    // A word has tokens, and their ids are indices.
    const firstLogit = (piece: string): number => start.logits[model.tokens.encode(piece)[0]!]!;
    const options = wanted.filter(({ piece }) => firstLogit(piece) >= likeliest - GATE);
    if (options.length === 0) continue;
    const longest = Math.max(...options.map(({ covers }) => covers));
    const last = Math.min(text.length, at + longest + WORDS_AFTER);
    const tails = [{ piece: text[at] ?? '', covers: 1 }, ...options].map(({ piece, covers }) =>
      [piece, ...text.slice(at + covers, last)].join(' '),
    );
    const [own = 0, ...others] = await model.weigh(sound, start, tails, last === text.length);
    const margins = options.map(({ allowance }, i) => (others[i] ?? -Infinity) + allowance - own);
    const most = Math.max(...margins);
    const best = options[margins.indexOf(most)];
    if (best && most >= 0) text.splice(at, best.covers, best.piece);
  }
  return text;
}

interface Alternative {
  readonly piece: string;
  /** Pieces of the text it stands for. */
  readonly covers: number;
  readonly allowance: number;
}

function alternativesAt(text: readonly string[], at: number, words: SkillWords): Alternative[] {
  const before = spellOut(text[at - 1] ?? '').at(-1) ?? '';
  const wordAt = (i: number): string => spellOut(text[i] ?? '')[0] ?? '';
  const piece = text[at] ?? '';
  const [own, ...rest] = spellOut(piece);
  if (own === undefined || rest.length > 0) return [];
  const next = wordAt(at + 1);
  const alternatives = (letters: string, covers: number, allowances: Allowances): Alternative[] =>
    words
      .like(letters, covers > 1 ? LONG_WORD : undefined)
      .filter((form) => form !== own && !isNegator(form))
      .flatMap((form) => {
        const inPhrase = words.makesPhrase(before, form, wordAt(at + covers));
        const allowance = inPhrase ? allowances.inPhrase : allowances.alone;
        if (allowance === null) return [];
        return [{ piece: dressed(form, piece, text[at + covers - 1] ?? piece), covers, allowance }];
      });
  const strange = words.isStrange(own);
  const small = isFunctionWord(own) && own.length >= LONGER && !isNegator(own);
  const runOn = /[.,;:?!]$/.test(piece) || isFunctionWord(own) || next === '';
  const together =
    !runOn && (strange || words.isStrange(next) || (isFunctionWord(next) && next.length >= LONGER));
  return [
    ...(strange ? alternatives(own, 1, STRANGE) : []),
    ...(small ? alternatives(own, 1, SMALL) : []),
    ...(together ? alternatives(own + next, 2, STRANGE) : []),
  ];
}

/** A word with the capital of the first piece it stands for and the marks of the last. */
function dressed(word: string, first: string, last: string): string {
  const [, head = ''] = /^([^\p{L}\p{N}]*)/u.exec(first) ?? [];
  const [, tail = ''] = /([^\p{L}\p{N}]*)$/u.exec(last) ?? [];
  return head + (/^[^\p{L}]*\p{Lu}/u.test(first) ? capitalised(word) : word) + tail;
}
