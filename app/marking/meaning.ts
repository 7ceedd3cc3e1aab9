import type { Checklist } from '../skills/checklist.ts';
import { goesAgainst } from '../language/direction.ts';
import type { Hearing, Span } from './hearing.ts';
import { isReached } from '../skills/match.ts';
import { mannerOf, type Manner } from '../language/stance.ts';
import type { Step } from '../skills/skill.ts';
import type { Utterance } from '../language/utterance.ts';
import { isFunctionWord, piecesOf, tokenize } from '../language/words.ts';

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
export function meantIn({ steps }: Checklist, hearing: Hearing, isInPlace: (step: Step) => boolean): Meant[] {
  const { utterance, tokens, markers, carried } = hearing;
  return (utterance.judged ?? []).flatMap(({ from, to, sure }) => {
    const own = tokens.flatMap(({ at }, t) => (t >= carried && at >= from && at < to ? [t] : []));
    const content = own.filter((t) => !isFunctionWord(tokens[t]!.word));
    if (content.length === 0) return [];
    const span = { from: own[0]!, to: own.at(-1)! + 1 };
    const sentence = tokens.slice(span.from, span.to);
    const words = sentence.map(({ word }) => word).join(' ');
    const reached = new Set(markers.filter((m) => isReached(content, m)).map(({ stance }) => stance));
    return steps
      .filter(({ id, evidence }) => READ.has(evidence.kind) && id in sure)
      .flatMap((step) => {
        const weight = weightOf(step, sure[step.id]!, isInPlace(step));
        if (weight === null) return [];
        const denies = DENIES.test(step.text);
        const stances = [...reached].filter(
          (stance) => !(step.plans && stance === 'begun') && !(denies && stance === 'denied'),
        );
        // The judge may take "I cut the nails" for a step that forbids it; where it counts the words must forbid it as well.
        const lacks =
          step.critical &&
          (lacksDenial(hearing, span, step.text) || (/\bfirst\b/.test(step.text) && !FIRST.test(words)));
        const believed = sure[step.id]! >= (step.critical ? CRITICAL_DESPITE : DESPITE);
        const isNotDone = stances.some((stance) => mannerOf(stance) === null && stance !== 'doubted');
        const isDoubted = lacks || (stances.includes('doubted') && !(believed && !step.critical));
        const told = (['told', 'begun'] as const).find((stance) => stances.includes(stance)) ?? 'done';
        const isOtherWay = goesAgainst(sentence, step.text);
        const said = isDoubted ? 'doubted' : told;
        const manner = isOtherWay || (isNotDone && !believed) ? null : said;
        return [{ step, sure: sure[step.id]!, span, manner, weight }];
      });
  });
}

/** What a step keeps off may be said with a denial: "smooth the stocking, so that there are no wrinkles". */
const DENIES = /\b(not|no|never|without|nothing|nobody|avoid|none)\b/i;

/** A step that forbids something must be: "do not cut the nails". */
const FORBIDS = /^(?:do not|never|avoid)\b/i;

/** Whether words speak of what a step of this text forbids or keeps off, and do not deny it: "I use hot water" for "…never hot". */
export function lacksDenial({ tokens, markers }: Hearing, { from, to }: Span, text: string): boolean {
  const said = tokens.slice(from, to).map((_, i) => from + i);
  const isDenied = (at: readonly number[]): boolean =>
    markers.some((m) => m.stance === 'denied' && isReached(at, m));
  if (FORBIDS.test(text)) return !isDenied(said.filter((t) => !isFunctionWord(tokens[t]!.word)));
  const keptOff = keptOffBy(text);
  return said.some((t) => keptOff.has(tokens[t]!.stem) && !isDenied([t]));
}

/** Stems of what a step keeps off: "hot" of "use lukewarm water, never hot". Who says it without a denial says something else. */
const keptOffBy = (text: string): ReadonlySet<string> =>
  new Set(
    [...text.matchAll(/\b(?:not|no|never|without|nothing|avoid)((?: [a-z]+){1,2})/gi)].flatMap(([, words]) =>
      tokenize(piecesOf(words!)).flatMap(({ word, stem }) => (isFunctionWord(word) ? [] : [stem])),
    ),
  );

/** What must come first is not said by what does not say so: "then the strong arm comes out of the gown". */
const FIRST = /\b(?:first|before|start|begin)/;

/** How sure the judge is, 0–1, that a step is said where a claim stands; null where none was at work. */
export function surenessAt(hearing: Hearing, id: string, claim: Span): number | null {
  const { utterance, tokens, carried } = hearing;
  if (!utterance.judged) return null;
  const [first, last] = [tokens[Math.max(claim.from, carried)]!.at, tokens[claim.to - 1]!.at];
  return surest(
    utterance.judged.filter(({ from, to }) => from <= last && to > first),
    id,
  );
}

/** How sure the judge is, 0–1, that one of some stretches says a step. */
export const surest = (judged: NonNullable<Utterance['judged']>, id: string): number =>
  Math.max(0, ...judged.map(({ sure }) => sure[id] ?? 0));
