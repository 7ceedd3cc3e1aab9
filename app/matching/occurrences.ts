import Fuse from 'fuse.js';
import { isNumberWord } from '../language/numbers.ts';
import {
  isFunctionWord,
  isParticle,
  soundsOf,
  soundTogether,
  spellingDistance,
  type Token,
} from '../language/words.ts';
import { ANY_NUMBER, type Item, type Phrase } from './cue.ts';

/** A place in an utterance where a piece of a cue was found. */
export interface Occurrence {
  readonly tokens: readonly number[];
  /** The first token, and one past the last. */
  readonly from: number;
  readonly to: number;
  /** 1: in its own words; less where a word only sounds or looks alike. */
  readonly quality: number;
}

/** Quality of a word that only sounds like the cue's, and of one that is only spelled like it. */
const SOUNDS_ALIKE = 0.8;
const SPELLED_ALIKE = 0.75;
/** fuse.js distance up to which two spellings are one word: "fingertps" yes, "finger"/"linger" no. */
const FUZZY_DISTANCE = 0.2;
/** Letters from which spelling is compared; in shorter words one letter makes another word. */
const SPELLED_FROM = 5;
/**
 * Share of the letters that may differ between words of the same sound: sound codes alone put "fish" beside "wash" and
 * "painted" beside "beneath". Above a half those come back.
 */
const ALIKE_SPELLING = 0.4;
/**
 * Tokens that may stand between the words of one wording after a word of content ("pull the curtain back"). After a
 * small word only grammar words may: "from… wrist" is not said by "from the fingertips to the wrists".
 */
const PHRASE_GAP = 2;
/** Sounds from which neighbouring words that run together are compared with a wording. */
const RUN_SOUNDS = 3;

/** One or two neighbouring content words, with how they sound when run together. */
interface Run {
  readonly from: number;
  readonly stems: readonly string[];
  readonly sound: string;
}

/** Finds the pieces of a skill's cues in utterances. Build once a skill: it holds the fuzzy index of the skill's words. */
export class WordFinder {
  private readonly bySound = new Map<string, string[]>();
  private readonly fuse: Fuse<string>;
  private readonly likeness = new Map<string, ReadonlyMap<string, number>>();

  /** @param known the stems of all words of the skill's cues */
  constructor(private readonly known: ReadonlySet<string>) {
    for (const stem of known) {
      if (isFunctionWord(stem)) continue;
      for (const sound of soundsOf(stem)) this.bySound.set(sound, [...(this.bySound.get(sound) ?? []), stem]);
    }
    const spelled = [...known].filter((stem) => stem.length >= SPELLED_FROM);
    this.fuse = new Fuse(spelled, {
      includeScore: true,
      threshold: FUZZY_DISTANCE,
      distance: 10,
      minMatchCharLength: 4,
    });
  }

  /** Where in an utterance the pieces of cues stand, each looked for once; places that use one of the `spent` tokens are left out. */
  within(tokens: readonly Token[], spent: ReadonlySet<number>): (item: Item) => readonly Occurrence[] {
    const found = new Map<string, readonly Occurrence[]>();
    const runs = runsIn(tokens);
    return (item) => {
      const known = found.get(item.key);
      if (known) return known;
      const all = item.phrases
        .flatMap((phrase) => this.wordByWord(phrase, tokens).concat(this.runTogether(phrase, runs)))
        .filter((o) => !o.tokens.some((t) => spent.has(t)));
      found.set(item.key, all);
      return all;
    };
  }

  /** Where the words of a wording stand in their order, small gaps between them allowed. */
  private wordByWord({ stems: [first, ...rest] }: Phrase, tokens: readonly Token[]): Occurrence[] {
    const found: Occurrence[] = [];
    if (first === undefined) return found;
    tokens.forEach((token, from) => {
      const quality = this.fit(token, first);
      const whole = quality > 0 ? this.goOn(rest, tokens, from, quality) : null;
      if (whole) found.push(whole);
    });
    return found;
  }

  /** The wording that begins at a token and goes on with the other words; null where one of them is not near. */
  private goOn(
    rest: readonly string[],
    tokens: readonly Token[],
    from: number,
    quality: number,
  ): Occurrence | null {
    const at = [from];
    let to = from + 1;
    let least = quality;
    for (const stem of rest) {
      const next = this.nextWord(stem, tokens, to);
      if (!next) return null;
      at.push(next.at);
      to = next.at + 1;
      least = Math.min(least, next.quality);
    }
    return { tokens: at, from, to, quality: least };
  }

  /** The best place of the next word of a wording, which goes on at token `from`; null where none is near. */
  private nextWord(
    stem: string,
    tokens: readonly Token[],
    from: number,
  ): { at: number; quality: number } | null {
    const before = tokens[from - 1];
    const isAfterSmall = before !== undefined && isSmall(before.word);
    let best: { at: number; quality: number } | null = null;
    for (const [gap, token] of tokens.slice(from, from + PHRASE_GAP + 1).entries()) {
      const quality = this.fit(token, stem);
      if (quality > (best?.quality ?? 0)) best = { at: from + gap, quality };
      if (isAfterSmall && !isFunctionWord(token.word)) break;
    }
    return best;
  }

  /** Where the wording, run together, sounds like one or two words: "call light" heard as "collide". */
  private runTogether(phrase: Phrase, runs: readonly Run[]): Occurrence[] {
    if (phrase.sound === '') return [];
    return runs
      .filter((run) => run.sound === phrase.sound && !this.isHeardAsSuch(run, phrase))
      .map(({ from, stems: { length } }) => ({
        tokens: Array.from({ length }, (_, k) => from + k),
        from,
        to: from + length,
        quality: SOUNDS_ALIKE,
      }));
  }

  /**
   * Whether a run was not misheard. One that holds a word of the wording as such ("water" for "out of water") has lost the others;
   * one word that the skill has itself is heard as such: "second" is no "cease count".
   */
  private isHeardAsSuch({ stems }: Run, phrase: Phrase): boolean {
    const [only, ...more] = stems;
    const isOneWord = more.length === 0 && only !== undefined;
    if (isOneWord && (phrase.stems.length === 1 || this.known.has(only))) return true;
    return stems.length !== phrase.stems.length && stems.some((stem) => phrase.stems.includes(stem));
  }

  /** How well a token fits a stem: 1 the same word, less for one that sounds or looks alike, 0 otherwise. */
  private fit(token: Token, stem: string): number {
    if (stem === ANY_NUMBER) return isNumberWord(token.word) ? 1 : 0;
    if (token.stem === stem) return 1;
    if (isFunctionWord(token.word) || this.known.has(token.stem)) return 0;
    return this.likenessOf(token.stem).get(stem) ?? 0;
  }

  /** The skill's words that a strange one may have been, with their quality. */
  private likenessOf(stem: string): ReadonlyMap<string, number> {
    const cached = this.likeness.get(stem);
    if (cached) return cached;
    const spelled = stem.length < SPELLED_FROM ? [] : this.fuse.search(stem).map(({ item }) => item);
    const sounding = soundsOf(stem).flatMap((sound) => this.bySound.get(sound) ?? []);
    const alike = new Map<string, number>();
    for (const known of spelled) {
      if (Math.abs(known.length - stem.length) <= 2 && !isOpposite(known, stem))
        alike.set(known, SPELLED_ALIKE);
    }
    for (const known of sounding) {
      const isNear = spellingDistance(stem, known) <= ALIKE_SPELLING * Math.max(stem.length, known.length);
      if (isNear && !isOpposite(known, stem)) alike.set(known, SOUNDS_ALIKE);
    }
    this.likeness.set(stem, alike);
    return alike;
  }
}

/** Whether one word undoes the other: "unlock" is spelled like "lock" and is no mishearing of it. */
const isOpposite = (a: string, b: string): boolean => a === `un${b}` || b === `un${a}`;

const isSmall = (word: string): boolean => isFunctionWord(word) || isParticle(word);

function runsIn(tokens: readonly Token[]): Run[] {
  return tokens.flatMap((_token, from) =>
    [1, 2].flatMap((length) => {
      const run = tokens.slice(from, from + length);
      if (run.length < length || run.some((t) => isFunctionWord(t.word))) return [];
      const stems = run.map((t) => t.stem);
      const sound = soundTogether(stems);
      return sound.length >= RUN_SOUNDS ? [{ from, stems, sound }] : [];
    }),
  );
}
