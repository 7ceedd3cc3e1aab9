import { splitClauses } from '../language/clauses.ts';
import { findMarkers } from '../language/polarity.ts';
import {
  isDroppable,
  isFunctionWord,
  isNegator,
  isParticle,
  soundTogether,
  spellOut,
  stemOf,
  tokenAt,
  type Token,
} from '../language/words.ts';

/**
 * Cues: example sayings such as "i {close} the {curtain} for your privacy". A word stands for its inflections, a slot
 * for any of its wordings in the lexicon.
 */

/** One wording: the stems to be heard in this order, small gaps allowed. */
export interface Phrase {
  readonly text: string;
  readonly stems: readonly string[];
  /** How the whole sounds when run together; empty for a short single word, which is compared word by word. */
  readonly sound: string;
}

/** A piece of a cue: a word (one phrase) or a slot (several). */
export interface Item {
  /** What makes two items the same thing across cues: the stem, or the slot's name in braces. */
  readonly key: string;
  readonly phrases: readonly Phrase[];
  /** Carries content, as opposed to "the" or "my". */
  readonly content: boolean;
  /** Marked with "!", or turns the meaning round ("not", a slot with such a wording): without it nothing is said. */
  readonly required: boolean;
}

/** A cue as parsed. */
export interface Cue {
  /** As it is written in the skill file. */
  readonly text: string;
  readonly items: readonly Item[];
  /** Whether nothing else of content may stand in its clause: "{soap}." is not said by "the soap is empty". */
  readonly alone: boolean;
}

/** The wordings of each slot, by its name. */
export interface Lexicon {
  readonly slots: Readonly<Record<string, readonly string[]>>;
}

/** Stands for any word that is a number, or part of one: "over #". */
export const ANY_NUMBER = '#';

/** What is said for it where a wording is spoken. */
const SOME_NUMBER = 'eighty';

/** The words of a piece of a cue. */
const wordsOf = (text: string): string[] =>
  text.split(' ').flatMap((piece) => (piece === ANY_NUMBER ? [ANY_NUMBER] : spellOut(piece)));

const SLOT = /\{([^{}]*)\}/g;

/** Names of the slots a cue mentions. */
export function slotsOf(cue: string): string[] {
  return [...cue.matchAll(SLOT)].map(([, name = '']) => name.trim());
}

/**
 * Sounds in the code of a single word that may be heard as two ("wristband" as "wrist bend"). "fingertip" has five; with
 * four, pairs of everyday words come to sound like one of the skill's.
 */
const LONG_SOUND = 5;

function phraseOf(text: string): Phrase {
  const words = wordsOf(text);
  const content = words.filter((w) => !isDroppable(w));
  const stems = (content.length > 0 ? content : words).map(stemOf);
  const sound = soundTogether(stems);
  return { text: words.join(' '), stems, sound: stems.length > 1 || sound.length >= LONG_SOUND ? sound : '' };
}

/**
 * Parses a cue. A full stop at its end makes it stand alone in its clause. "!" after a word or slot makes that required:
 * "{turn-off} the {tap} with a {towel}!". Words that would take the assertion away ("before", "will", "does it") are required
 * as well: a cue that has them means them. A slot the lexicon lacks throws: skill files are checked before.
 */
export function parseCue(cue: string, lexicon: Lexicon): Cue {
  const pieces = cue.match(/\{[^{}]*\}!?|[^\s{}.]+/g) ?? [];
  const found = pieces.flatMap((piece) =>
    piece.startsWith('{') ? slotIn(piece, cue, lexicon) : wordsIn(piece),
  );
  const meant = markersAmong(found);
  const items = found.map((item, i) => (meant.has(i) ? { ...item, required: true } : item));
  return { text: cue, items, alone: cue.endsWith('.') };
}

function wordsIn(piece: string): Item[] {
  return wordsOf(piece.replace('!', '')).map((word) => {
    const stem = stemOf(word);
    return {
      key: stem,
      phrases: [{ text: word, stems: [stem], sound: '' }],
      content: isNegator(word) || !isFunctionWord(word),
      required: piece.endsWith('!') || isNegator(word),
    };
  });
}

function slotIn(piece: string, cue: string, lexicon: Lexicon): Item {
  const name = piece.slice(1, piece.indexOf('}')).trim();
  const wordings = lexicon.slots[name];
  if (!wordings) throw new Error(`cue "${cue}" uses the unknown slot {${name}}`);
  const phrases = wordings.map(phraseOf);
  return {
    key: `{${name}}`,
    phrases,
    content: phrases.some((p) => !p.stems.every((w) => isFunctionWord(w) && !isNegator(w))),
    required: piece.endsWith('!') || phrases.some((p) => p.stems.some(isNegator)),
  };
}

/** The items whose words would take the assertion away. */
function markersAmong(items: readonly Item[]): Set<number> {
  const words = items.flatMap(({ phrases: [first] }, at) =>
    (first?.text.split(' ') ?? []).map((word) => ({ word, stem: stemOf(word), at })),
  );
  const tokens = words.map((word, i): Token => ({ ...word, ends: i === words.length - 1 ? '?' : '' }));
  const markers = findMarkers(tokens, splitClauses(tokens));
  return new Set(markers.flatMap((m) => m.tokens.map((t) => tokenAt(tokens, t).at)));
}

/**
 * Weight of each item of a skill: 1 for what only one step says, falling to 0.3 for what all of them say; particles
 * ("up", "down") half of that; grammar words 0.05, enough to prefer the fuller match and too little to make one.
 * The falling curve is that of inverse document frequency (Spärck Jones, 1972), with the steps as documents.
 */
export function weighItems(cuesByStep: readonly (readonly (readonly Item[])[])[]): (item: Item) => number {
  const steps = cuesByStep.length;
  const frequency = new Map<string, number>();
  for (const cues of cuesByStep) {
    for (const key of new Set(cues.flat().map((item) => item.key)))
      frequency.set(key, (frequency.get(key) ?? 0) + 1);
  }
  return (item) => {
    if (!item.content) return 0.05;
    const rarity = 1 - Math.log(frequency.get(item.key) ?? 1) / Math.log(steps + 1);
    const weight = Math.max(0.3, rarity);
    return isParticle(item.key) ? weight / 2 : weight;
  };
}

/** The k-th wording of a cue in plain words: each slot takes its k-th, counted round. */
export function wordingOf(cue: string, lexicon: Lexicon, k: number): string {
  const filled = cue.replaceAll('!', '').replace(SLOT, (_whole, name: string) => {
    const wordings = lexicon.slots[name.trim()] ?? [''];
    return wordings[k % wordings.length] ?? '';
  });
  return spellOut(filled.replaceAll(ANY_NUMBER, SOME_NUMBER)).join(' ');
}

/**
 * Wordings of a cue in plain words, for the recogniser's vocabulary: each slot takes its wordings in turn, so that
 * every wording appears once and the list does not grow with their product.
 */
export function wordingsOf(cue: string, lexicon: Lexicon): string[] {
  const most = Math.max(1, ...slotsOf(cue).map((name) => lexicon.slots[name]?.length ?? 1));
  return Array.from({ length: most }, (_, k) => wordingOf(cue, lexicon, k));
}
