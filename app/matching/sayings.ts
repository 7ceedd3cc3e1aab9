import { clauseAt, type Clause } from '../language/clauses.ts';
import type { Marker } from '../language/polarity.ts';
import type { Stance } from '../language/stance.ts';
import { isFunctionWord, isNegator, tokenAt, type Token } from '../language/words.ts';
import { stanceOf, UNSURE_FROM, type Claim } from './claim.ts';
import type { Item } from './cue.ts';
import type { Occurrence } from './occurrences.ts';

/** From a cue and the places of its pieces to the sayings of it in an utterance. */

/** A cue made ready: its items with their weights. */
export interface ReadyCue {
  /** As it is written in the skill file. */
  readonly text: string;
  readonly items: readonly { readonly item: Item; readonly weight: number }[];
  /** Whether nothing else of content may stand in its clause. */
  readonly alone: boolean;
}

/** What can be said: a step, a clock's start or stop, a movement. */
export interface Target {
  readonly id: string;
  readonly cues: readonly ReadyCue[];
  /** Which ways of saying are as good as doing: "I am going to…", where that is the step. */
  readonly allows: ReadonlySet<Stance>;
  /** Whether every saying counts, as with repetitions, and not only the best of the utterance. */
  readonly repeats: boolean;
}

/** Tokens a saying may hold beyond its cue's own. More lets words of two different sayings add up to one. */
const SAYING_SLACK = 7;
/** Grammar words so near before the first word of content belong to the saying: "I am", "do not". */
const LEADS_IN = 4;
/** A saying spread over two sentences counts this much: recognisers set full stops into pauses. */
const ACROSS_SENTENCES = 0.92;
/** What each further word of a wording adds to its mass: "pull back the curtain" is more than "pull the curtain". */
const FULLER = 0.2;
/** Words of content that must be found, where a cue has so many. */
const LEAST_CONTENT = 2;
/**
 * Tokens between a "not" that a cue means and the word it is about: "I did not ask whether he is on blood thinners" is not "not
 * on blood thinners". On the dev narrations none that means it needs more than 4.
 */
const NEGATION_REACH = 4;

export type PlacesOf = (item: Item) => readonly Occurrence[];

export const sum = (numbers: readonly number[]): number => numbers.reduce((total, n) => total + n, 0);

/** An utterance, and where the pieces of cues stand in it. */
export interface Heard {
  readonly tokens: readonly Token[];
  readonly clauses: readonly Clause[];
  readonly markers: readonly Marker[];
  readonly placesOf: PlacesOf;
}

/** An item of a cue, and where in the cue it stands. */
interface Part {
  readonly item: Item;
  readonly weight: number;
  readonly place: number;
}

/** A cue with what is worked out of it once. */
export interface SoughtCue extends ReadyCue {
  /** Its items, the heaviest first: it has the first choice among the words. */
  readonly parts: readonly Part[];
  readonly weight: number;
  /** Items of content that must be found. */
  readonly least: number;
}

export function soughtCue(cue: ReadyCue): SoughtCue {
  const parts = cue.items
    .map(({ item, weight }, place) => ({ item, weight, place }))
    .sort((a, b) => b.weight - a.weight);
  const contents = parts.filter(({ item }) => item.content).length;
  return {
    ...cue,
    parts,
    weight: sum(cue.items.map(({ weight }) => weight)),
    least: Math.min(LEAST_CONTENT, contents),
  };
}

/** A cue's claims: one from each word of content on that may be the saying's first. */
export function claimsOf(target: Target, cue: SoughtCue, heard: Heard): Claim[] {
  const isHeard = ({ item }: Pick<Part, 'item'>): boolean => heard.placesOf(item).length > 0;
  const content = cue.items.filter((part) => part.item.content && isHeard(part));
  const isLacking = cue.parts.some((part) => part.item.required && !isHeard(part));
  if (content.length < cue.least || isLacking) return [];
  const starts = new Set(content.flatMap(({ item }) => heard.placesOf(item).map(({ from }) => from)));
  return [...starts].flatMap((start) => {
    const picks = pickFrom(cue.parts, heard.placesOf, start);
    return picks ? (claimOf(target, cue, picks, heard) ?? []) : [];
  });
}

/** An item as it is found in a saying. */
interface Picked extends Part {
  readonly at: Occurrence;
}

/** The best place of each part in the saying that begins with the content at token `start`; null where a required part is not in it. */
function pickFrom(parts: readonly Part[], placesOf: PlacesOf, start: number): Picked[] | null {
  const end = start + parts.length + SAYING_SLACK;
  const used = new Set<number>();
  const picks: Picked[] = [];
  for (const part of parts) {
    const { item } = part;
    const low = item.content ? start : start - LEADS_IN;
    let best: Occurrence | null = null;
    for (const at of placesOf(item)) {
      const isOpen = at.from >= low && at.to <= end && !at.tokens.some((t) => used.has(t));
      if (isOpen && (!best || fitsBetter(at, best, start))) best = at;
    }
    if (!best && item.required) return null;
    if (!best) continue;
    best.tokens.forEach((t) => used.add(t));
    picks.push({ ...part, at: best });
  }
  return picks;
}

/** Of two places of an item the likelier word, the longer wording, the nearer: "that's enough scrubbing. I stop here". */
function fitsBetter(a: Occurrence, b: Occurrence, start: number): boolean {
  const away = ({ from }: Occurrence): number => Math.abs(from - start);
  const better = a.quality - b.quality || a.tokens.length - b.tokens.length || away(b) - away(a);
  return better > 0;
}

/** The claim that a cue's parts make where they were found; null where they are too few. */
function claimOf(target: Target, cue: SoughtCue, picks: readonly Picked[], heard: Heard): Claim | null {
  const ofContent = picks.filter(({ item }) => item.content);
  if (ofContent.length < cue.least) return null;
  const tokens = ofContent.flatMap(({ at }) => at.tokens).sort((a, b) => a - b);
  if (cue.alone && !standsAlone(tokens, heard)) return null;
  const [from, last] = [Math.min(...tokens), Math.max(...tokens)];
  const sentenceOf = (token: number): number => clauseAt(heard.clauses, token).sentence;
  const across = sentenceOf(from) !== sentenceOf(last);
  const whole = across ? ACROSS_SENTENCES : 1;
  const score = sum(picks.map(({ weight, at }) => weight * at.quality)) * (whole / cue.weight);
  if (score < UNSURE_FROM) return null;
  const plain = picks.filter(({ at }) => at.quality === 1);
  return {
    target: target.id,
    cue: cue.text,
    stance: stanceOf(tokens, meantBy(picks), heard.markers, target.allows),
    score,
    plainScore: (sum(plain.map(({ weight }) => weight)) / cue.weight) * whole,
    plain: plain.some(({ item }) => item.content),
    mass: sum(picks.map(({ weight, at }) => weight * at.quality * (1 + FULLER * (at.tokens.length - 1)))),
    tokens,
    from,
    to: last + 1,
    across,
  };
}

/** Whether nothing else of content stands in the clause, and nothing is asked. */
function standsAlone(content: readonly number[], { tokens, clauses }: Heard): boolean {
  const { from, to } = clauseAt(clauses, Math.min(...content));
  const isOther = (word: string, i: number): boolean => !content.includes(from + i) && !isFunctionWord(word);
  return (
    !tokens.slice(from, to).some(({ word }, i) => isOther(word, i)) && tokenAt(tokens, to - 1).ends !== '?'
  );
}

/** The tokens with which a cue means what takes an assertion away: "not" in "I do not touch the sink". */
function meantBy(picks: readonly Picked[]): Set<number> {
  const meant = new Set(
    picks.filter(({ item, at }) => item.required && at.quality === 1).flatMap(({ at }) => at.tokens),
  );
  for (const stray of strayNegators(picks)) meant.delete(stray);
  return meant;
}

/** The negators that were found too far before the cue's next word to be about it. */
function strayNegators(picks: readonly Picked[]): number[] {
  const inOrder = [...picks].sort((a, b) => a.place - b.place);
  return inOrder.flatMap(({ item, at: { from } }, i) => {
    if (!isNegator(item.key)) return [];
    const about = inOrder.slice(i + 1).find((next) => next.item.content)?.at.from ?? from;
    return about < from || about - from > NEGATION_REACH ? [from] : [];
  });
}
