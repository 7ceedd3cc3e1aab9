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

/** A token that fits a stem: quality 1 for the same word, less for one that sounds or looks alike. */
interface Fit {
  readonly at: number;
  readonly quality: number;
}
type Fits = ReadonlyMap<string, readonly Fit[]>;

/** One or two neighbouring content words. */
interface Run {
  readonly from: number;
  readonly stems: readonly string[];
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
    const fits = this.fitsIn(tokens);
    const runs = runsIn(tokens);
    return (item) => {
      const known = found.get(item.key);
      if (known) return known;
      const all = item.phrases
        .flatMap((phrase) => wordByWord(phrase, tokens, fits).concat(this.runTogether(phrase, runs)))
        .filter((o) => !o.tokens.some((t) => spent.has(t)));
      found.set(item.key, all);
      return all;
    };
  }

  /** For each stem that tokens fit, these in their order. A skill has thousands of wordings, few of whose words are ever said. */
  private fitsIn(tokens: readonly Token[]): Fits {
    const fits = new Map<string, Fit[]>();
    const add = (stem: string, at: number, quality: number): void => {
      const there = fits.get(stem);
      if (there) there.push({ at, quality });
      else fits.set(stem, [{ at, quality }]);
    };
    tokens.forEach(({ word, stem }, at) => {
      add(stem, at, 1);
      if (isNumberWord(word)) add(ANY_NUMBER, at, 1);
      if (isFunctionWord(word) || this.known.has(stem)) return;
      for (const [alike, quality] of this.likenessOf(stem)) add(alike, at, quality);
    });
    return fits;
  }

  /** Where the wording, run together, sounds like one or two words: "call light" heard as "collide". */
  private runTogether(phrase: Phrase, runs: ReadonlyMap<string, readonly Run[]>): Occurrence[] {
    return (runs.get(phrase.sound) ?? [])
      .filter((run) => !this.isHeardAsSuch(run, phrase))
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

/** Where the words of a wording stand in their order, small gaps between them allowed. */
function wordByWord({ stems: [first, ...rest] }: Phrase, tokens: readonly Token[], fits: Fits): Occurrence[] {
  if (first === undefined) return [];
  return (fits.get(first) ?? []).flatMap((start) => goOn(rest, tokens, fits, start) ?? []);
}

/** The wording that begins at a token and goes on with the other words; null where one of them is not near. */
function goOn(rest: readonly string[], tokens: readonly Token[], fits: Fits, start: Fit): Occurrence | null {
  const at = [start.at];
  let to = start.at + 1;
  let least = start.quality;
  for (const stem of rest) {
    const next = nextWord(stem, tokens, fits, to);
    if (!next) return null;
    at.push(next.at);
    to = next.at + 1;
    least = Math.min(least, next.quality);
  }
  return { tokens: at, from: start.at, to, quality: least };
}

/** The best place of the next word of a wording, which goes on at token `from`; null where none is near. */
function nextWord(stem: string, tokens: readonly Token[], fits: Fits, from: number): Fit | null {
  const before = tokens[from - 1];
  const isAfterSmall = before !== undefined && isSmall(before.word);
  let best: Fit | null = null;
  for (const fit of fits.get(stem) ?? []) {
    if (fit.at < from || fit.at > from + PHRASE_GAP) continue;
    const between = tokens.slice(from, fit.at);
    if (isAfterSmall && between.some(({ word }) => !isFunctionWord(word))) break;
    if (fit.quality > (best?.quality ?? 0)) best = fit;
  }
  return best;
}

/** Whether one word undoes the other: "unlock" is spelled like "lock" and is no mishearing of it. */
const isOpposite = (a: string, b: string): boolean => a === `un${b}` || b === `un${a}`;

const isSmall = (word: string): boolean => isFunctionWord(word) || isParticle(word);

/** By how they sound. */
function runsIn(tokens: readonly Token[]): ReadonlyMap<string, readonly Run[]> {
  const runs = new Map<string, Run[]>();
  tokens.forEach((_token, from) => {
    for (const length of [1, 2]) {
      const run = tokens.slice(from, from + length);
      if (run.length < length || run.some((t) => isFunctionWord(t.word))) continue;
      const stems = run.map((t) => t.stem);
      const sound = soundTogether(stems);
      if (sound.length >= RUN_SOUNDS) runs.set(sound, [...(runs.get(sound) ?? []), { from, stems }]);
    }
  });
  return runs;
}
