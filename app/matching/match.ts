import type { Clause } from '../language/clauses.ts';
import type { Marker } from '../language/polarity.ts';
import type { Token } from '../language/words.ts';
import { byWorth, overlap, saysIt, type Claim } from './claim.ts';
import { WordFinder } from './occurrences.ts';
import { claimsOf, soughtCue, sum, type PlacesOf, type SoughtCue, type Target } from './sayings.ts';

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

const NOTHING: ReadonlySet<number> = new Set();

/** A target with what is worked out of its cues once. */
interface SoughtTarget extends Target {
  readonly cues: readonly SoughtCue[];
}

/** Finds a skill's cues in utterances. Build once a skill: it holds the fuzzy index of the skill's words. */
export class Matcher {
  private readonly words: WordFinder;
  private readonly targets: readonly SoughtTarget[];

  constructor(targets: readonly Target[]) {
    this.targets = targets.map((target) => ({ ...target, cues: target.cues.map(soughtCue) }));
    const items = targets.flatMap(({ cues }) => cues.flatMap((cue) => cue.items));
    this.words = new WordFinder(
      new Set(items.flatMap(({ item }) => item.phrases.flatMap(({ stems }) => stems))),
    );
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
    const heard = { tokens, clauses, markers, placesOf: this.words.within(tokens, spent) };
    return this.targets.flatMap((target) => {
      const claims = target.cues.flatMap((cue) => claimsOf(target, cue, heard));
      return bestOf(
        target,
        claims.filter(({ to }) => to > carried),
      );
    });
  }

  /**
   * For each target the cue that comes nearest to what was said, with what of it was lacking: for whoever writes cues.
   * Where in the utterance the words stand is not looked at; marking uses {@link find}.
   */
  nearest(tokens: readonly Token[]): Nearest[] {
    const placesOf = this.words.within(tokens, NOTHING);
    return this.targets.flatMap(({ id, cues }) => {
      const [first, ...others] = cues.map((cue) => nearnessOf(id, cue, placesOf));
      return first ? [others.reduce((a, b) => (a.score >= b.score ? a : b), first)] : [];
    });
  }
}

function nearnessOf(target: string, { text, items, weight: whole }: SoughtCue, placesOf: PlacesOf): Nearest {
  const found = items.map(({ item, weight }) => ({
    item,
    weight,
    quality: Math.max(0, ...placesOf(item).map((o) => o.quality)),
  }));
  return {
    target,
    cue: text,
    score: sum(found.map(({ weight, quality }) => weight * quality)) / whole,
    lacking: found
      .filter(({ item, quality }) => quality === 0 && (item.content || item.required))
      .map(({ item }) => (item.key.startsWith('{') ? item.key : (item.phrases[0]?.text ?? item.key))),
  };
}

/** The best claims of a target: one that says it and one that does not, or, where it repeats, all that share no word. */
function bestOf({ repeats }: Target, claims: readonly Claim[]): Claim[] {
  const best: Claim[] = [];
  for (const claim of [...claims].sort(byWorth)) {
    const rivals = best.filter((b) => saysIt(b) === saysIt(claim));
    if (repeats ? rivals.every((rival) => overlap(rival, claim) === 0) : rivals.length === 0)
      best.push(claim);
  }
  return best;
}
