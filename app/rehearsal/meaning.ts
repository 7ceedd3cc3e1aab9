import type { Checklist } from './checklist.ts';
import { goesAgainst } from './direction.ts';
import type { Hearing, Span } from './hearing.ts';
import { isReached } from './match.ts';
import { mannerOf, type Manner } from './polarity.ts';
import type { Step } from './skill.ts';
import type { Utterance } from './utterance.ts';
import { isFunctionWord, piecesOf, tokenize, type Token } from './words.ts';

/**
 * How the learned judge's word is weighed beside the rules'. The rules keep what they do best: denials that are plainly there, order,
 * clocks, numbers, counts. The judge reads what was meant where the words are not the author's.
 */

/*
 * All chosen on dev narrations and traps that the judge then used had not learnt from: `bench:written --fold known` (86 narrations, 484 traps,
 * hard ones; precision .995, recall .978, 4.3 % of traps credit something, 0.6 % a critical step) and `--fold strange --texts-only` (85, 689).
 */

/** From here on the judge's word alone credits a step. At 0.6 unseen skills lose .009 of recall and one trap in a hundred less comes through. */
const SURE = 0.5;
/** For a critical step. At 0.7 two of the known fold's critical steps are credited falsely; at 0.8 one critical trap more comes through. */
const CRITICAL_SURE = 0.95;
/** From here on it settles what the rules found faint or only alike in sound. Between 0.3 and 0.7 little changes. */
const AGREES = 0.5;
const CRITICAL_AGREES = 0.8;
/**
 * Below, it objects to what the rules alone would credit, and the step is asked about. At 0.1 (0.3 for critical steps) three of a thousand
 * right credits are lost and no trap is stopped; at 0.01 (0.05) one more credit is false.
 */
const OBJECTS = 0.02;
const CRITICAL_OBJECTS = 0.1;
/** From here on a step that nothing else speaks for may have been said, and is asked about. */
const POSSIBLE = 0.3;

/**
 * Sureness from which the judge is believed although the sentence, by the rules, does not say that something is done: markers reach further
 * than what they are about ("spread those toes, I'm drying in there, I don't leave a drop"). Of 43 critical steps so marked, between 0.9 and
 * 0.998 the judge was wrong about none in the known fold and about five in the strange one, two of them above 0.98.
 */
const DESPITE = 0.95;
const CRITICAL_DESPITE = 0.98;

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
}

/** `alone`: its word is enough; `possible`: worth asking. */
type Weight = 'alone' | 'possible' | null;

export const weightOf = ({ step, sure }: Meant): Weight =>
  sure >= (step.critical ? CRITICAL_SURE : SURE) ? 'alone' : sure >= POSSIBLE ? 'possible' : null;

export const agrees = (step: Step, sure: number | null): boolean =>
  sure !== null && sure >= (step.critical ? CRITICAL_AGREES : AGREES);

export const objects = (step: Step, sure: number | null): boolean =>
  sure !== null && sure < (step.critical ? CRITICAL_OBJECTS : OBJECTS);

/** All that the judge has to say of an utterance's steps. */
export function meantIn({ steps }: Checklist, hearing: Hearing): Meant[] {
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
      .map((step) => {
        const denies = DENIES.test(step.text);
        const stances = [...reached].filter(
          (stance) => !(step.plans && stance === 'begun') && !(denies && stance === 'denied'),
        );
        // The judge may take "I cut the nails" for a step that forbids it; where it counts the words must forbid it as well.
        const lacks =
          step.critical &&
          ((!reached.has('denied') && mustDeny(step.text, sentence)) ||
            (/\bfirst\b/.test(step.text) && !FIRST.test(words)));
        const believed = sure[step.id]! >= (step.critical ? CRITICAL_DESPITE : DESPITE);
        const isNotDone = stances.some((stance) => mannerOf(stance) === null && stance !== 'doubted');
        const isDoubted = lacks || (stances.includes('doubted') && !(believed && !step.critical));
        const told = (['told', 'begun'] as const).find((stance) => stances.includes(stance)) ?? 'done';
        const isOtherWay = goesAgainst(sentence, step.text);
        const manner = isOtherWay || (isNotDone && !believed) ? null : isDoubted ? 'doubted' : told;
        return { step, sure: sure[step.id]!, span, manner };
      });
  });
}

/** What a step keeps off may be said with a denial: "smooth the stocking, so that there are no wrinkles". */
const DENIES = /\b(not|no|never|without|nothing|nobody|avoid|none)\b/i;

/** A step that forbids something must be: "do not cut the nails". */
const FORBIDS = /^(?:do not|never|avoid)\b/i;

/** Whether a sentence may say a step of this text only with a denial. */
function mustDeny(text: string, sentence: readonly Token[]): boolean {
  const keptOff = keptOffBy(text);
  return FORBIDS.test(text) || sentence.some(({ stem }) => keptOff.has(stem));
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
