import type { Checklist } from './checklist.ts';
import type { Hearing, Span } from './hearing.ts';
import { isReached } from './match.ts';
import { mannerOf, type Manner } from './polarity.ts';
import type { Step } from './skill.ts';
import type { Utterance } from './utterance.ts';
import { isFunctionWord } from './words.ts';

/**
 * How the learned judge's word is weighed beside the rules'. The rules keep what they do best: denials that are plainly there, order,
 * clocks, numbers, counts. The judge reads what was meant where the words are not the author's.
 */

/**
 * From here on the judge's word alone credits a step. Chosen, as all of these, on dev narrations and traps that the judge then used
 * had not learnt from: at 0.9 a fifth of what it adds is lost for no better precision.
 */
const SURE = 0.7;
/** For a critical step. Below, a trap of those ("pounds or kilos…") comes through. */
const CRITICAL_SURE = 0.95;
/** From here on it settles what the rules found faint or only alike in sound. */
const AGREES = 0.5;
const CRITICAL_AGREES = 0.8;
/**
 * Below, it objects to what the rules alone would credit, and the step is asked about. At 0.1 half as many traps are credited and
 * three of a hundred right credits are lost.
 */
const OBJECTS = 0.02;
const CRITICAL_OBJECTS = 0.1;
/** From here on a step that nothing else speaks for may have been said. */
const POSSIBLE = 0.5;

/** Sureness from which the judge is believed of an ordinary step where the sentence, by the rules, does not say that something is done. */
const DESPITE = 0.95;

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

/** All that the judge has to say of an utterance's steps that only need saying. */
export function meantIn({ steps }: Checklist, hearing: Hearing): Meant[] {
  const { utterance, tokens, markers, carried } = hearing;
  return (utterance.judged ?? []).flatMap(({ from, to, sure }) => {
    const own = tokens.flatMap(({ at }, t) => (t >= carried && at >= from && at < to ? [t] : []));
    const content = own.filter((t) => !isFunctionWord(tokens[t]!.word));
    if (content.length === 0) return [];
    const span = { from: own[0]!, to: own.at(-1)! + 1 };
    return steps
      .filter(({ id, evidence }) => evidence.kind === 'said' && id in sure)
      .map((step) => {
        const reached = new Set(markers.filter((m) => isReached(content, m)).map(({ stance }) => stance));
        const forbids = FORBIDS.test(step.text);
        const stances = [...reached].filter(
          (stance) => !(step.plans && stance === 'begun') && !(forbids && stance === 'denied'),
        );
        // The judge may take "I cut the nails" for a step that forbids it; where it counts the words must forbid it as well.
        const lacks = forbids && step.critical && !reached.has('denied');
        const isNotDone = stances.some((stance) => mannerOf(stance) === null && stance !== 'doubted');
        const vetoed = isNotDone && (step.critical || sure[step.id]! < DESPITE);
        const mild = (['doubted', 'told', 'begun'] as const).find((stance) => stances.includes(stance));
        const manner = lacks || mild === 'doubted' ? 'doubted' : mild === undefined ? 'done' : mannerOf(mild);
        return { step, sure: sure[step.id]!, span, manner: vetoed ? null : manner };
      });
  });
}

/** A step that asks for something not to be done is said with a denial: "do not cut the nails". */
const FORBIDS = /\b(not|no|never|without|nothing|nobody|avoid|none)\b/i;

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
