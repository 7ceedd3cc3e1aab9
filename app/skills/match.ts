import Fuse from 'fuse.js';
import { ANY_NUMBER, type Item, type Phrase } from './cue.ts';
import { isNumberWord } from '../language/numbers.ts';
import { clauseAt, type Clause } from '../language/clauses.ts';
import type { Marker } from '../language/polarity.ts';
import { MANNERS, mannerOf, type Stance } from '../language/stance.ts';
import {
  isFunctionWord,
  isNegator,
  isParticle,
  soundsOf,
  soundTogether,
  spellingDistance,
  type Token,
} from '../language/words.ts';

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

/** A place in an utterance where a target's words were found. */
export interface Claim {
  readonly target: string;
  /** The cue that was found, as it is written. */
  readonly cue: string;
  readonly stance: Stance;
  /** 0–1: weighted share of the cue that was found. */
  readonly score: number;
  /** The same, counting only words recognised as such, not sound-alikes. */
  readonly plainScore: number;
  /** Whether some content word was recognised as such. */
  readonly plain: boolean;
  /** How much was said: the weight found, not divided by the cue's, with more for longer wordings. */
  readonly mass: number;
  /** Token indexes that carry the content, and the span from the first to one past the last. */
  readonly tokens: readonly number[];
  readonly from: number;
  readonly to: number;
  /** Whether it is spread over two sentences. */
  readonly across: boolean;
}

/** The cue of a target that is nearest to what was said. */
export interface Nearest {
  readonly target: string;
  /** As it is written in the skill file. */
  readonly cue: string;
  /** 0–1: weighted share of the cue that was said, wherever. */
  readonly score: number;
  /** Its words of content, and slots in braces, that were not said. */
  readonly lacking: readonly string[];
}

/**
 * Share of a cue from which it counts as said. Chosen on the dev half of the corpus (tests/speech): below 0.66 two
 * steps that share their nouns start to be taken for each other; above 0.78 rephrased sayings are lost.
 */
export const CREDIT_FROM = 0.7;
/** From here to {@link CREDIT_FROM} a step may have been said: worth asking, not worth a credit. */
export const UNSURE_FROM = 0.56;

/**
 * Share of a cue that must be heard in its own words, not in ones that only sound or look like them, where nothing else
 * speaks for a step: "eight of spades, four of close" is no call light. On speech that has nothing to do with the skills
 * twelve steps in 40 minutes were credited at 0, six at 0.55 and no fewer at 0.6.
 */
export const PLAIN_FROM = 0.55;

/** Quality of a word that only sounds like the cue's, and of one that is only spelled like it. */
const SOUNDS_ALIKE = 0.8;
const SPELLED_ALIKE = 0.75;
/** fuse.js distance up to which two spellings are one word: "fingertps" yes, "finger"/"linger" no. */
const FUZZY_DISTANCE = 0.2;
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
/** Tokens a saying may hold beyond its cue's own. More lets words of two different sayings add up to one. */
const SAYING_SLACK = 7;
/** A saying spread over two sentences counts this much: recognisers set full stops into pauses. */
const ACROSS_SENTENCES = 0.92;

/** What each further word of a wording adds to its mass: "pull back the curtain" is more than "pull the curtain". */
const FULLER = 0.2;

const NOTHING: ReadonlySet<number> = new Set();

interface Occurrence {
  readonly tokens: readonly number[];
  readonly quality: number;
}

/** Finds a skill's cues in utterances. Build once a skill: it holds the fuzzy index of the skill's words. */
export class Matcher {
  private readonly known = new Set<string>();
  private readonly bySound = new Map<string, string[]>();
  private readonly fuse: Fuse<string>;
  private readonly likeness = new Map<string, ReadonlyMap<string, number>>();

  constructor(private readonly targets: readonly Target[]) {
    const stems = new Set<string>();
    for (const target of targets)
      for (const cue of target.cues)
        for (const { item } of cue.items)
          for (const phrase of item.phrases) for (const stem of phrase.stems) stems.add(stem);
    for (const stem of stems) {
      this.known.add(stem);
      if (isFunctionWord(stem)) continue;
      for (const sound of soundsOf(stem)) this.bySound.set(sound, [...(this.bySound.get(sound) ?? []), stem]);
    }
    const spelled = [...stems].filter((s) => s.length >= 5);
    this.fuse = new Fuse(spelled, {
      includeScore: true,
      threshold: FUZZY_DISTANCE,
      distance: 10,
      minMatchCharLength: 4,
    });
  }

  /**
   * Every claim worth looking at: for a target at most one that says it, in whatever manner, and one that does not, unless
   * the target repeats.
   * The first `carried` tokens are those of the utterance before: a claim must reach past them, and may not use those
   * of them that are `spent`.
   */
  find(
    tokens: readonly Token[],
    clauses: readonly Clause[],
    markers: readonly Marker[],
    carried = 0,
    spent: ReadonlySet<number> = NOTHING,
  ): Claim[] {
    const cache = new Map<string, readonly Occurrence[]>();
    const runs = runTogether(tokens);
    const occurrences = (item: Item): readonly Occurrence[] => {
      const known = cache.get(item.key);
      if (known) return known;
      const found = item.phrases
        .flatMap((phrase) => this.occurrencesOf(phrase, tokens, runs))
        .filter((o) => !o.tokens.some((t) => spent.has(t)));
      cache.set(item.key, found);
      return found;
    };
    const sentenceOf = (token: number): number => clauseAt(clauses, token).sentence;
    const standsAlone = (content: readonly number[]): boolean => {
      const { from, to } = clauseAt(clauses, content[0]!);
      const rest = tokens
        .slice(from, to)
        .filter((t, i) => !content.includes(from + i) && !isFunctionWord(t.word));
      return rest.length === 0 && tokens[to - 1]!.ends !== '?';
    };

    return this.targets.flatMap((target) => {
      const claims = target.cues
        .flatMap((cue) => [...this.claims(target, cue, occurrences, markers, sentenceOf, standsAlone)])
        .filter((claim) => claim.to > carried);
      // A short cue said in full is worth more than half of a long one, than a long one over two sentences, and than one
      // in words that only sound like it.
      const whole = (c: Claim): number => {
        if (c.score < CREDIT_FROM) return 0;
        if (c.plainScore < PLAIN_FROM) return 1;
        return c.across ? 2 : 3;
      };
      claims.sort(
        (a, b) => whole(b) - whole(a) || strength(b) - strength(a) || directness(a) - directness(b),
      );
      const kept: Claim[] = [];
      for (const claim of claims) {
        const rivals = kept.filter((k) => saysIt(k) === saysIt(claim));
        if (target.repeats ? rivals.every((k) => overlap(k, claim) === 0) : rivals.length === 0)
          kept.push(claim);
      }
      return kept;
    });
  }

  /**
   * For each target the cue that comes nearest to what was said, with what of it was lacking: for whoever writes cues.
   * Where in the utterance the words stand is not looked at; marking uses {@link find}.
   */
  nearest(tokens: readonly Token[]): Nearest[] {
    const runs = runTogether(tokens);
    return this.targets.flatMap((target): Nearest[] => {
      const all = target.cues.map((cue): Nearest => {
        const found = cue.items.map(({ item, weight }) => {
          const said = item.phrases.flatMap((phrase) => this.occurrencesOf(phrase, tokens, runs));
          return { item, weight, quality: Math.max(0, ...said.map((o) => o.quality)) };
        });
        const total = found.reduce((sum, { weight }) => sum + weight, 0);
        const score = found.reduce((sum, { weight, quality }) => sum + weight * quality, 0) / total;
        const lacking = found
          .filter(({ item, quality }) => quality === 0 && (item.content || item.required))
          .map(({ item }) => (item.key.startsWith('{') ? item.key : item.phrases[0]!.text));
        return { target: target.id, cue: cue.text, score, lacking };
      });
      const best = all.reduce<Nearest | null>((a, b) => (a && a.score >= b.score ? a : b), null);
      return best ? [best] : [];
    });
  }

  private *claims(
    target: Target,
    cue: ReadyCue,
    occurrences: (item: Item) => readonly Occurrence[],
    markers: readonly Marker[],
    sentenceOf: (token: number) => number,
    standsAlone: (content: readonly number[]) => boolean,
  ): Generator<Claim> {
    const found = cue.items.map(({ item, weight }, place) => ({
      item,
      weight,
      place,
      at: occurrences(item),
    }));
    const total = cue.items.reduce((sum, { weight }) => sum + weight, 0);
    const contents = cue.items.filter(({ item }) => item.content).length;
    const reach = cue.items.length + SAYING_SLACK;
    const heaviestFirst = [...found].sort((a, b) => b.weight - a.weight);
    const starts = new Set(found.filter((f) => f.item.content).flatMap((f) => f.at.map((o) => o.tokens[0]!)));

    saying: for (const start of starts) {
      // Grammar words just before the first content word belong to the saying ("I am", "do not").
      const low = start - 4;
      const used = new Set<number>();
      const meant = new Set<number>();
      const picks = new Map<number, Occurrence>();
      const content: number[] = [];
      let score = 0;
      let mass = 0;
      let plain = 0;
      let anyPlain = false;
      let matched = 0;
      for (const { item, weight, place, at } of heaviestFirst) {
        let pick: Occurrence | undefined;
        for (const o of at) {
          const first = o.tokens[0]!;
          if (first < (item.content ? start : low) || o.tokens.at(-1)! >= start + reach) continue;
          if (o.tokens.some((t) => used.has(t))) continue;
          if (!pick || fitsBetter(o, pick, start)) pick = o;
        }
        if (!pick) {
          if (item.required) continue saying;
          continue;
        }
        pick.tokens.forEach((t) => used.add(t));
        picks.set(place, pick);
        if (item.required && pick.quality === 1) pick.tokens.forEach((t) => meant.add(t));
        score += weight * pick.quality;
        mass += weight * pick.quality * (1 + FULLER * (pick.tokens.length - 1));
        if (pick.quality === 1) {
          plain += weight;
          anyPlain ||= item.content;
        }
        if (item.content) {
          matched += 1;
          content.push(...pick.tokens);
        }
      }
      if (matched < Math.min(2, contents)) continue;
      for (const stray of strayNegators(cue, picks)) meant.delete(stray);
      content.sort((a, b) => a - b);
      if (cue.alone && !standsAlone(content)) continue;
      const across = sentenceOf(content[0]!) !== sentenceOf(content.at(-1)!);
      const whole = across ? ACROSS_SENTENCES : 1;
      score *= whole / total;
      if (score < UNSURE_FROM) continue;
      yield {
        target: target.id,
        cue: cue.text,
        stance: stanceOf(content, meant, markers, target.allows),
        score,
        plainScore: (plain / total) * whole,
        plain: anyPlain,
        mass,
        tokens: content,
        from: content[0]!,
        to: content.at(-1)! + 1,
        across,
      };
    }
  }

  private occurrencesOf(phrase: Phrase, tokens: readonly Token[], runs: readonly Run[]): Occurrence[] {
    const found: Occurrence[] = [];
    const [first, ...rest] = phrase.stems;
    tokens.forEach((token, i) => {
      let quality = this.fit(token, first!);
      if (quality > 0) {
        const at = [i];
        for (const stem of rest) {
          const from = at.at(-1)! + 1;
          let next = -1;
          let best = 0;
          for (let j = from; j < Math.min(tokens.length, from + PHRASE_GAP + 1); j += 1) {
            const q = this.fit(tokens[j]!, stem);
            if (q > best) {
              best = q;
              next = j;
            }
            if (isSmall(tokens[from - 1]!.word) && !isFunctionWord(tokens[j]!.word)) break;
          }
          if (next < 0) break;
          at.push(next);
          quality = Math.min(quality, best);
        }
        if (at.length === phrase.stems.length) found.push({ tokens: at, quality });
      }
    });
    // "call light" heard as "collide": the wording run together sounds like one or two words.
    for (const run of phrase.sound === '' ? [] : runs) {
      // A run that holds a word of the wording as such ("water" for "out of water") has lost the others, not misheard them.
      // One word that the skill has itself is heard as such: "second" is no "cease count".
      const alone = run.stems.length === 1 && (phrase.stems.length === 1 || this.known.has(run.stems[0]!));
      const lost =
        run.stems.length !== phrase.stems.length && run.stems.some((stem) => phrase.stems.includes(stem));
      if (run.sound !== phrase.sound || alone || lost) continue;
      found.push({ tokens: run.stems.map((_, k) => run.from + k), quality: SOUNDS_ALIKE });
    }
    return found;
  }

  /** How well a token fits a stem: 1 the same word, less for one that sounds or looks alike, 0 otherwise. */
  private fit(token: Token, stem: string): number {
    if (stem === ANY_NUMBER) return isNumberWord(token.word) ? 1 : 0;
    if (token.stem === stem) return 1;
    if (isFunctionWord(token.word) || this.known.has(token.stem)) return 0;
    return this.likenessOf(token.stem).get(stem) ?? 0;
  }

  private likenessOf(stem: string): ReadonlyMap<string, number> {
    const cached = this.likeness.get(stem);
    if (cached) return cached;
    const alike = new Map<string, number>();
    if (stem.length >= 5) {
      for (const { item } of this.fuse.search(stem)) {
        if (Math.abs(item.length - stem.length) <= 2 && !isOpposite(item, stem))
          alike.set(item, SPELLED_ALIKE);
      }
    }
    for (const sound of soundsOf(stem)) {
      for (const known of this.bySound.get(sound) ?? []) {
        if (
          !isOpposite(known, stem) &&
          spellingDistance(stem, known) <= ALIKE_SPELLING * Math.max(stem.length, known.length)
        ) {
          alike.set(known, SOUNDS_ALIKE);
        }
      }
    }
    this.likeness.set(stem, alike);
    return alike;
  }
}

/** Whether one word undoes the other: "unlock" is spelled like "lock" and is no mishearing of it. */
const isOpposite = (a: string, b: string): boolean => a === `un${b}` || b === `un${a}`;

/**
 * Tokens between a "not" that a cue means and the word it is about: "I did not ask whether he is on blood thinners" is not "not
 * on blood thinners". On the dev narrations none that means it needs more than 4.
 */
const NEGATION_REACH = 4;

/** The negators that were found too far before the cue's next word to be about it. */
function strayNegators({ items }: ReadyCue, picks: ReadonlyMap<number, Occurrence>): number[] {
  return items.flatMap(({ item }, place) => {
    const negator = picks.get(place)?.tokens[0];
    if (negator === undefined || !isNegator(item.key)) return [];
    const about = items.findIndex(({ item: other }, k) => k > place && other.content && picks.has(k));
    const next = picks.get(about)?.tokens[0];
    return next !== undefined && (next < negator || next - negator > NEGATION_REACH) ? [negator] : [];
  });
}

/** Of two places of an item the likelier word, the longer wording, the nearer: "that's enough scrubbing. I stop here". */
function fitsBetter(a: Occurrence, b: Occurrence, start: number): boolean {
  const away = (o: Occurrence): number => Math.abs(o.tokens[0]! - start);
  const better = a.quality - b.quality || a.tokens.length - b.tokens.length || away(b) - away(a);
  return better > 0;
}

const isSmall = (word: string): boolean => isFunctionWord(word) || isParticle(word);

/** One or two neighbouring content words, with how they sound when run together. */
interface Run {
  readonly from: number;
  readonly stems: readonly string[];
  readonly sound: string;
}

function runTogether(tokens: readonly Token[]): Run[] {
  return tokens.flatMap((_token, from) =>
    [1, 2].flatMap((length) => {
      const run = tokens.slice(from, from + length);
      if (run.length < length || run.some((t) => isFunctionWord(t.word))) return [];
      const stems = run.map((t) => t.stem);
      const sound = soundTogether(stems);
      return sound.length >= 3 ? [{ from, stems, sound }] : [];
    }),
  );
}

/**
 * Whether a marker concerns a claim's content. What is mentioned beside a step that has begun ("…before I do the other eye")
 * must be most of it, and what was found ("…, no sores") all.
 */
export function isReached(content: readonly number[], { stance, from, to, findingFrom }: Marker): boolean {
  const reached = content.filter((t) => t >= from && t < to).length;
  if (findingFrom !== undefined && content[0]! < findingFrom) return false;
  const beside = stance === 'mentioned' && content[0]! < from && 2 * reached <= content.length;
  return reached > 0 && !beside;
}

/**
 * In what way a saying is said, by the markers that reach its words.
 *
 * @param meant tokens that a required part of the cue matched: a marker made of these is what the cue wants said
 */
function stanceOf(
  content: readonly number[],
  meant: ReadonlySet<number>,
  markers: readonly Marker[],
  allows: ReadonlySet<Stance>,
): Stance {
  const against = markers.filter(
    (m) =>
      isReached(content, m) &&
      !m.tokens.every((t) => meant.has(t)) &&
      !content.some((t) => t >= (m.mendedFrom ?? Infinity)) &&
      !allows.has(m.stance),
  );
  // The mildest come last: anything else that stands against the saying decides.
  const mild: readonly Stance[] = ['doubted', 'told', 'begun'];
  const worst = against.find((m) => !mild.includes(m.stance));
  return worst?.stance ?? mild.find((stance) => against.some((m) => m.stance === stance)) ?? 'asserted';
}

/** Whether a claim says that the thing is done, begun, or would be. */
export const saysIt = ({ stance }: Claim): boolean => mannerOf(stance) !== null;

/** Lower is more direct: said as done before as begun. */
const directness = ({ stance }: Claim): number => {
  const manner = mannerOf(stance);
  return manner === null ? MANNERS.length : MANNERS.indexOf(manner);
};

/**
 * Settles which claims stand when several want the same words. The fullest claim goes first, those spread over two sentences
 * last ("finished. I go back to scrubbing" is no end of the scrub); a later one stands only if most of its own words are
 * still free, or all where it is spread. Where two fit the same words equally well ("I wash my hands", at the
 * beginning and at the end), `rank` decides: lower goes first.
 */
export function settle(claims: readonly Claim[], rank: (target: string) => number): Claim[] {
  const open = [...claims].sort(
    (a, b) =>
      Number(a.across) - Number(b.across) || strength(b) - strength(a) || rank(a.target) - rank(b.target),
  );
  const taken = new Set<number>();
  const standing: Claim[] = [];
  while (open.length > 0) {
    const head = open[0]!;
    const equals = open.filter((c) => strength(c) >= 0.93 * strength(head) && overlap(c, head) >= 0.75);
    const pick = equals.reduce((a, b) => (rank(b.target) < rank(a.target) ? b : a));
    open.splice(open.indexOf(pick), 1);
    const free = pick.tokens.filter((t) => !taken.has(t)).length;
    if (free < (pick.across ? 1 : FREE_SHARE) * pick.tokens.length) continue;
    // "starting to count now" has no room for "count".
    if (pick.tokens.length === 1 && standing.some((s) => s.from < pick.from && pick.to < s.to)) continue;
    standing.push(pick);
    pick.tokens.forEach((t) => taken.add(t));
  }
  return standing;
}

/** How much was said, and how well it fits. */
export const strength = (c: Claim): number => c.score * c.mass;

/** Share of a claim's content words that no fuller claim has used. Lower credits one saying to two like steps. */
const FREE_SHARE = 0.5;

function overlap(a: Claim, b: Claim): number {
  const shared = a.tokens.filter((t) => b.tokens.includes(t)).length;
  return shared / Math.min(a.tokens.length, b.tokens.length);
}
