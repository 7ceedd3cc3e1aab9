import type { Marker } from '../language/polarity.ts';
import { MANNERS, mannerOf, type Stance } from '../language/stance.ts';

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

/** How much was said, and how well it fits. */
export const strength = (c: Claim): number => c.score * c.mass;

/** Whether a claim says that the thing is done, begun, or would be. */
export const saysIt = ({ stance }: Claim): boolean => mannerOf(stance) !== null;

/** Whether a claim is a whole saying in words recognised as such. */
export const isWhole = ({ score, plain, plainScore }: Claim): boolean =>
  plain && score >= CREDIT_FROM && plainScore >= CREDIT_FROM;

/** Whether two claims want a word in common. */
export const sharesWords = (a: Pick<Claim, 'tokens'>, b: Pick<Claim, 'tokens'>): boolean =>
  a.tokens.some((t) => b.tokens.includes(t));

/** The words that two claims share, as a share of the shorter one's. */
export function overlap(a: Claim, b: Claim): number {
  const shared = a.tokens.filter((t) => b.tokens.includes(t)).length;
  return shared / Math.min(a.tokens.length, b.tokens.length);
}

/** How good a claim is, the best first. */
const GRADES = [
  'whole', // a cue in full
  'spread', // over two sentences
  'alike', // in words that only sound like the cue's
  'faint', // less than what counts as said
] as const;

function gradeOf({ score, plainScore, across }: Claim): (typeof GRADES)[number] {
  if (score < CREDIT_FROM) return 'faint';
  if (plainScore < PLAIN_FROM) return 'alike';
  return across ? 'spread' : 'whole';
}

/** Lower is more direct: said as done before as begun. */
function directness({ stance }: Claim): number {
  const manner = mannerOf(stance);
  return manner === null ? MANNERS.length : MANNERS.indexOf(manner);
}

/**
 * Of the claims for one target the better first: a short cue said in full is better than half of a long one. Then the stronger, then
 * the more direct.
 */
export const byWorth = (a: Claim, b: Claim): number =>
  GRADES.indexOf(gradeOf(a)) - GRADES.indexOf(gradeOf(b)) ||
  strength(b) - strength(a) ||
  directness(a) - directness(b);

/**
 * Whether a marker concerns a claim's content. What is mentioned beside a step that has begun ("…before I do the other eye")
 * must be most of it, and what was found ("…, no sores") all.
 */
export function isReached(content: readonly number[], { stance, from, to, findingFrom }: Marker): boolean {
  const reached = content.filter((t) => t >= from && t < to).length;
  const first = content[0];
  if (first === undefined || first < (findingFrom ?? 0)) return false;
  const isBeside = stance === 'mentioned' && first < from && 2 * reached <= content.length;
  return reached > 0 && !isBeside;
}

/** The mildest come last: anything else that stands against a saying decides. */
const MILD: readonly Stance[] = ['doubted', 'told', 'begun'];

/**
 * In what way a saying is said, by the markers that reach its words.
 *
 * @param meant tokens that a required part of the cue matched: a marker made of these is what the cue wants said
 */
export function stanceOf(
  content: readonly number[],
  meant: ReadonlySet<number>,
  markers: readonly Marker[],
  allows: ReadonlySet<Stance>,
): Stance {
  const isMended = ({ mendedFrom = Infinity }: Marker): boolean => content.some((t) => t >= mendedFrom);
  const against = markers
    .filter((m) => isReached(content, m) && !m.tokens.every((t) => meant.has(t)) && !isMended(m))
    .map(({ stance }) => stance)
    .filter((stance) => !allows.has(stance));
  return (
    against.find((stance) => !MILD.includes(stance)) ??
    MILD.find((stance) => against.some((other) => other === stance)) ??
    'asserted'
  );
}
