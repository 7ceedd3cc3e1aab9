import { goesAgainst } from '../language/direction.ts';
import { mannerOf, type Manner, type Stance } from '../language/stance.ts';
import type { Judged, Utterance } from '../language/utterance.ts';
import { isFunctionWord, tokenAt, type Token } from '../language/words.ts';
import { isReached } from '../matching/claim.ts';
import { stepTextOf, type Checklist } from '../skills/checklist.ts';
import type { Step } from '../skills/skill.ts';
import type { StepText } from '../skills/stepText.ts';
import type { Hearing, Span } from './hearing.ts';

/**
 * How the learned judge's word is weighed beside the rules'. The rules keep what they do best: denials that are plainly there, order,
 * clocks, numbers, counts. The judge reads what was meant where the words are not the author's.
 */

/*
 * All chosen on dev narrations and traps that the judge then used had not learnt from: `bench:written --fold known` (86 narrations, 484 traps,
 * hard ones; precision .995, recall .978, 4.3 % of traps credit something, 0.6 % a critical step) and `--fold strange --texts-only` (85, 689).
 * SURE_IN_PLACE and CRITICAL_SURE with judges of the same folds that had learnt the procedures' hard traps as well (models/recipe/judge/README.md).
 */

/** From here on the judge's word alone credits a step. At 0.6 unseen skills lose .009 of recall and one trap in a hundred less comes through. */
const SURE = 0.5;
/**
 * The same where a step's neighbour in the list has been said: people mostly go down the list. Unseen skills gain .014 of recall by it,
 * known ones .003, and no narration has one false credit more; of traps said at such a place 5 in 689 more come through, 2 in 484.
 */
const SURE_IN_PLACE = 0.3;
/** For a critical step. At 0.95 two of a thousand right credits are lost; at 0.8 one critical trap more comes through, at 0.7 two credits are false. */
const CRITICAL_SURE = 0.9;
/** From here on it settles what the rules found faint or only alike in sound. Between 0.3 and 0.7 little changes. */
const AGREES = 0.5;
const CRITICAL_AGREES = 0.8;
/**
 * Below, it objects to what the rules alone would credit, and the step is asked about. At 0.02 (0.1 for critical steps) one right credit in a
 * thousand is lost and three traps fewer in 689 come through; at 0.001 (0.02) three right ones are gained and eleven more come through.
 */
const OBJECTS = 0.005;
const CRITICAL_OBJECTS = 0.1;
/** From here on a step that nothing else speaks for may have been said, and is asked about. */
const POSSIBLE = 0.3;

/**
 * Sureness from which the judge is believed although the sentence, by the rules, does not say that something is done: markers reach further
 * than what they are about ("spread those toes, I'm drying in there, I don't leave a drop"). For critical steps .98 gains .002 of recall in the
 * known fold, and one more trap in 689 comes through; of "I should wear gloves, but it is only little" a judge was .992 sure. Never (above 1)
 * costs .009 and .006 of recall, and two critical traps fewer come through in 689.
 */
const DESPITE = 0.95;
const CRITICAL_DESPITE = 0.995;

/** Kinds of steps that the judge reads: what is timed needs its start and its end, which it does not tell apart. */
const READ: ReadonlySet<Step['evidence']['kind']> = new Set(['said', 'reading', 'counted']);

/** What the judge says of one step in one sentence. */
export interface Meant {
  readonly step: Step;
  readonly sure: number;
  /** The sentence's tokens. */
  readonly span: Span;
  /** In what way the sentence says it, by the rules; null where they see that it does not say it. */
  readonly manner: Manner | 'doubted' | null;
  /** `alone`: its word is enough; `possible`: worth asking. */
  readonly weight: 'alone' | 'possible';
}

/** How much the judge's word weighs; null where it is too unsure to count. */
function weightOf(step: Step, sure: number, isInPlace: boolean): Meant['weight'] | null {
  const ordinary = isInPlace ? SURE_IN_PLACE : SURE;
  if (sure >= (step.critical ? CRITICAL_SURE : ordinary)) return 'alone';
  return sure >= POSSIBLE ? 'possible' : null;
}

export const agrees = (step: Step, sure: number | null): boolean =>
  sure !== null && sure >= (step.critical ? CRITICAL_AGREES : AGREES);

export const objects = (step: Step, sure: number | null): boolean =>
  sure !== null && sure < (step.critical ? CRITICAL_OBJECTS : OBJECTS);

/** All that the judge has to say of an utterance's steps; `isInPlace`: whether a step's neighbour in the list has been said. */
export function meantIn(checklist: Checklist, hearing: Hearing, isInPlace: (step: Step) => boolean): Meant[] {
  const read = checklist.steps.filter(({ evidence }) => READ.has(evidence.kind));
  return (hearing.utterance.judged ?? []).flatMap((judged) => {
    const sentence = sentenceOf(hearing, judged);
    if (!sentence) return [];
    return read.flatMap((step): Meant[] => {
      const sure = judged.sure[step.id];
      const weight = sure === undefined ? null : weightOf(step, sure, isInPlace(step));
      if (sure === undefined || weight === null) return [];
      const manner = mannerIn(hearing, sentence, step, stepTextOf(checklist, step), sure);
      return [{ step, sure, span: sentence.span, manner, weight }];
    });
  });
}

/** A sentence that the judge has read. */
interface Sentence {
  readonly span: Span;
  readonly tokens: readonly Token[];
  /** The stances of the markers that reach its words. */
  readonly stances: ReadonlySet<Stance>;
}

/** The sentence that the judge has read, in its own tokens; null where it has no word of content. */
function sentenceOf({ tokens, markers, carried }: Hearing, { from, to }: Judged): Sentence | null {
  const own = tokens.flatMap(({ at }, t) => (t >= carried && at >= from && at < to ? [t] : []));
  const content = own.filter((t) => !isFunctionWord(tokenAt(tokens, t).word));
  if (content.length === 0) return null;
  const span = { from: Math.min(...own), to: Math.max(...own) + 1 };
  const stances = new Set(markers.filter((m) => isReached(content, m)).map(({ stance }) => stance));
  return { span, tokens: tokens.slice(span.from, span.to), stances };
}

/** In what way a sentence says a step of which the judge is so sure, by the rules. */
function mannerIn(
  hearing: Hearing,
  { span, tokens, stances }: Sentence,
  { critical, plans }: Step,
  text: StepText,
  sure: number,
): Meant['manner'] {
  const counting = [...stances].filter(
    (stance) => !(plans && stance === 'begun') && !(text.denies && stance === 'denied'),
  );
  const isBelieved = sure >= (critical ? CRITICAL_DESPITE : DESPITE);
  const isNotDone = counting.some((stance) => mannerOf(stance) === null && stance !== 'doubted');
  if (goesAgainst(tokens, text.direction) || (isNotDone && !isBelieved)) return null;
  // The judge may take "I cut the nails" for a step that forbids it; where it counts the words must forbid it as well.
  const lacks =
    critical && (lacksDenial(hearing, span, text) || (text.comesFirst && !tokens.some(isOfFirst)));
  const isBelievedDespite = isBelieved && !critical;
  if (lacks || (counting.includes('doubted') && !isBelievedDespite)) return 'doubted';
  return (['told', 'begun'] as const).find((stance) => counting.includes(stance)) ?? 'done';
}

/** Whether a word says that something comes first. */
const isOfFirst = ({ word }: Token): boolean => /\b(?:first|before|start|begin)/.test(word);

/** Whether words speak of what a step forbids or keeps off, and do not deny it: "I use hot water" for "…never hot". */
export function lacksDenial({ tokens, markers }: Hearing, { from, to }: Span, text: StepText): boolean {
  const said = tokens.slice(from, to).map((token, i) => ({ ...token, index: from + i }));
  const isDenied = (at: readonly number[]): boolean =>
    markers.some((m) => m.stance === 'denied' && isReached(at, m));
  if (text.forbids)
    return !isDenied(said.filter(({ word }) => !isFunctionWord(word)).map(({ index }) => index));
  return said.some(({ stem, index }) => text.keptOff.has(stem) && !isDenied([index]));
}

/** How sure the judge is, 0–1, that a step is said where a claim stands; null where none was at work. */
export function surenessAt(hearing: Hearing, id: string, claim: Span): number | null {
  const { utterance, tokens, carried } = hearing;
  if (!utterance.judged) return null;
  const first = tokenAt(tokens, Math.max(claim.from, carried)).at;
  const last = tokenAt(tokens, claim.to - 1).at;
  return surest(
    utterance.judged.filter(({ from, to }) => from <= last && to > first),
    id,
  );
}

/** How sure the judge is, 0–1, that one of some stretches says a step. */
export const surest = (judged: NonNullable<Utterance['judged']>, id: string): number =>
  Math.max(0, ...judged.map(({ sure }) => sure[id] ?? 0));
