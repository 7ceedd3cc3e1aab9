import type { Checklist } from './checklist.ts';
import { goesAgainst } from './direction.ts';
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

/*
 * All chosen on dev narrations and traps that the judge then used had not learnt from (`bench:written --fold known`, 86 narrations, 484
 * traps, hard ones). With these: precision .995, recall .963, 5.4 % of traps credit something, 0.8 % a critical step.
 */

/** From here on the judge's word alone credits a step. At 0.5 recall gains .002 and one trap more of 484 comes through. */
const SURE = 0.6;
/** For a critical step. At 0.7 one more critical trap comes through, at 0.95 three of a thousand steps are lost. */
const CRITICAL_SURE = 0.8;
/** From here on it settles what the rules found faint or only alike in sound. Between 0.3 and 0.7 little changes. */
const AGREES = 0.5;
const CRITICAL_AGREES = 0.8;
/**
 * Below, it objects to what the rules alone would credit, and the step is asked about. At 0.1 (0.3 for critical steps) three of a thousand
 * right credits are lost and no trap is stopped; at 0.01 (0.05) one more credit is false.
 */
const OBJECTS = 0.02;
const CRITICAL_OBJECTS = 0.1;
/** From here on a step that nothing else speaks for may have been said. */
const POSSIBLE = 0.5;

/**
 * Sureness from which the judge is believed although the sentence, by the rules, does not say that something is done: markers reach further
 * than what they are about ("spread those toes, I'm drying in there, I don't leave a drop"). For critical steps at 0.99 one more trap comes
 * through; without it six of a thousand steps are lost.
 */
const DESPITE = 0.95;
const CRITICAL_DESPITE = 0.998;

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
        const forbids = FORBIDS.test(step.text);
        const stances = [...reached].filter(
          (stance) => !(step.plans && stance === 'begun') && !(forbids && stance === 'denied'),
        );
        // The judge may take "I cut the nails" for a step that forbids it; where it counts the words must forbid it as well.
        const lacks =
          step.critical &&
          ((forbids && !reached.has('denied')) || (/\bfirst\b/.test(step.text) && !FIRST.test(words)));
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

/** A step that asks for something not to be done is said with a denial: "do not cut the nails". */
const FORBIDS = /\b(not|no|never|without|nothing|nobody|avoid|none)\b/i;

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
