import type { Assessment } from '../../../app/marking/assessment.ts';
import type { Step } from '../../../app/skills/skill.ts';
import type { Narration } from '../narration.ts';
import type { PlacedLine, Truth } from '../place.ts';
import { normalize } from './wordErrors.ts';

/** Compares an assessment with what is true of the recording. Needs no recogniser and no matcher. */

/** What a step's mark should be: a credit, none, or not scored because fair listeners could disagree. */
export type Expected = 'credit' | 'none' | 'either';

/** What the narrator's words are worth by the labels and the skill's thresholds. Steps that need eyes are left out. */
export function expectedMarks(steps: readonly Step[], truth: Truth): Map<string, Expected> {
  const said = new Set(truth.lines.flatMap((line) => line.credits));
  const either = new Set(truth.lines.flatMap((line) => line.either));
  const mark = (credit: boolean, id: string): Expected => {
    if (credit) return 'credit';
    return either.has(id) ? 'either' : 'none';
  };
  return new Map(
    steps.flatMap(({ id, evidence }): [string, Expected][] => {
      switch (evidence.kind) {
        case 'eyes':
          return [];
        case 'timed':
          return [[id, mark((truth.clocks.get(id) ?? 0) >= evidence.atLeast - evidence.grace, id)]];
        case 'counted':
          return [[id, mark((truth.counts.get(id) ?? 0) >= evidence.atLeast, id)]];
        case 'reading':
          return [[id, mark(truth.readings.has(id), id)]];
        case 'said':
          return [[id, mark(said.has(id), id)]];
      }
    }),
  );
}

/**
 * What another skill's checklist may credit of a narration: nothing, except steps that both skills share under one name, and
 * hand washing, resting and lying down, which mean the same under different names.
 */
export function expectedElsewhere(steps: readonly Step[], own: readonly Step[]): Map<string, Expected> {
  const shared = new Set([...own.map((s) => s.id), ...ALIKE]);
  return new Map(
    steps.filter((s) => s.evidence.kind !== 'eyes').map(({ id }) => [id, shared.has(id) ? 'either' : 'none']),
  );
}
const ALIKE = ['hands-before', 'hands-after', 'position', 'lying-flat'];

export interface FalseCredit {
  readonly step: string;
  readonly critical: boolean;
  readonly text: string;
  /** Seconds between which its evidence lies. */
  readonly start: number;
  readonly end: number;
}

export interface CreditScore {
  readonly hits: readonly string[];
  readonly missed: readonly string[];
  readonly wrong: readonly FalseCredit[];
  /** Hits whose evidence is not near any line that says the step: right by chance. */
  readonly misplaced: readonly string[];
}

/** Evidence may begin or end so many seconds beside its line: speech detectors are late, and utterances join lines. */
const NEAR = 0.5;

/**
 * Step credits against the expected marks. A step counts as credited when it was heard, in order or not: order is scored by
 * {@link scoreOrder}. Precision is hits / (hits + wrong), recall is hits / (hits + missed).
 */
export function scoreCredits(
  marks: Assessment['steps'],
  expected: ReadonlyMap<string, Expected>,
  lines: readonly PlacedLine[],
): CreditScore {
  const hits: string[] = [];
  const missed: string[] = [];
  const misplaced: string[] = [];
  const wrong: FalseCredit[] = [];
  for (const { id, outcome, critical, evidence } of marks) {
    const credited = outcome === 'heard' || outcome === 'out of order';
    switch (expected.get(id)) {
      case 'credit': {
        if (!credited) {
          missed.push(id);
          break;
        }
        hits.push(id);
        const heard = evidence === null ? [] : linesDuring(lines, evidence);
        if (!heard.some((line) => saysOf(line).includes(id))) misplaced.push(id);
        break;
      }
      case 'none':
        if (credited)
          wrong.push({
            step: id,
            critical,
            text: evidence?.text ?? '',
            start: evidence?.start ?? 0,
            end: evidence?.end ?? 0,
          });
        break;
      case 'either':
      case undefined:
        break;
    }
  }
  return { hits, missed, wrong, misplaced };
}

/** The lines spoken during a stretch of sound. */
export function linesDuring(
  lines: readonly PlacedLine[],
  { start, end }: { readonly start: number; readonly end: number },
): PlacedLine[] {
  return lines.filter((line) => line.start - NEAR <= end && start <= line.end + NEAR);
}

/** How far the times of lines' first and last words lie from the lines' own, in seconds. */
export interface TimeErrors {
  readonly starts: readonly number[];
  readonly ends: readonly number[];
}

/** Seconds from a line's edge beyond which a word is another one. */
const SAME_WORD = 1;

/** Times of the words that begin and end each line, of those that were heard rightly. */
export function scoreTimes(
  lines: readonly PlacedLine[],
  utterances: Pick<Assessment['utterances'][number], 'words'>[],
): TimeErrors {
  const words = utterances
    .flatMap((utterance) => utterance.words ?? [])
    .map((word) => ({ ...word, text: normalize(word.text).join(' ') }));
  const errors = (edge: 'start' | 'end'): number[] =>
    lines.flatMap((line) => {
      const said = normalize(line.say).at(edge === 'start' ? 0 : -1);
      const [nearest] = words
        .filter(({ text }) => text === said)
        .map((word) => word[edge] - line[edge])
        .sort((a, b) => Math.abs(a) - Math.abs(b));
      return nearest !== undefined && Math.abs(nearest) < SAME_WORD ? [nearest] : [];
    });
  return { starts: errors('start'), ends: errors('end') };
}

/** Steps a line says, whether or not they come to a credit in the end. */
export function saysOf(line: PlacedLine): string[] {
  const timed = [line.starts, line.resumes].filter((id) => id !== undefined);
  return [...line.credits, ...line.either, ...Object.keys(line.counts), ...timed];
}

export interface ClockScore {
  readonly id: string;
  readonly truth: number;
  /** What the program shows; null when it did not time it. */
  readonly heard: number | null;
  /** By the labels, and by the program. */
  readonly enough: boolean;
  readonly met: boolean;
}

export function scoreClocks(
  steps: readonly Step[],
  truth: Truth,
  { clocks }: Pick<Assessment, 'clocks'>,
): ClockScore[] {
  return steps.flatMap(({ id, evidence }): ClockScore[] => {
    const seconds = truth.clocks.get(id);
    if (evidence.kind !== 'timed' || seconds === undefined) return [];
    const shown = clocks.find((clock) => clock.id === id);
    const heard = shown && shown.seconds > 0 ? shown.seconds : null;
    const enough = seconds >= evidence.atLeast - evidence.grace;
    return [{ id, truth: seconds, heard, enough, met: shown?.met ?? false }];
  });
}

export interface CountScore {
  readonly id: string;
  readonly truth: number;
  readonly heard: number;
}

export function scoreCounts(truth: Truth, { counts }: Pick<Assessment, 'counts'>): CountScore[] {
  return [...truth.counts].map(([id, n]) => ({
    id,
    truth: n,
    heard: counts.find((count) => count.id === id)?.counted ?? 0,
  }));
}

/**
 * What became of a number said. `exact`: taken down as said. `asked`: the program says it is not sure, or that the number was
 * not heard. `missed`: nothing was heard of the step, which stays open. `wrong`: another number, without a word.
 */
export type NumberVerdict = 'exact' | 'asked' | 'missed' | 'wrong';

export interface NumberScore {
  readonly id: string;
  readonly truth: number;
  readonly heard: number | null;
  readonly verdict: NumberVerdict;
}

export function scoreNumbers(
  truth: Truth,
  { readings, steps }: Pick<Assessment, 'readings' | 'steps'>,
): NumberScore[] {
  return [...truth.readings].map(([id, said]) => {
    const reading = readings.find((r) => r.id === id);
    const heard = reading?.value ?? null;
    const verdict = (): NumberVerdict => {
      if (reading?.sure) return reading.value === said ? 'exact' : 'wrong';
      if (reading || steps.find((s) => s.id === id)?.outcome === 'unsure') return 'asked';
      return 'missed';
    };
    return { id, truth: said, heard, verdict: verdict() };
  });
}

export interface OrderScore {
  /** Swapped pairs both of whose steps were credited, so that the program could see the swap. */
  readonly visible: number;
  readonly flagged: number;
  /** Steps called out of order that are in no swapped pair. */
  readonly wrong: readonly string[];
}

export function scoreOrder(marks: Assessment['steps'], swapped: Narration['swapped']): OrderScore {
  const outcome = new Map(marks.map((m) => [m.id, m.outcome]));
  const credited = (id: string): boolean => outcome.get(id) === 'heard' || outcome.get(id) === 'out of order';
  const late = (id: string): boolean => outcome.get(id) === 'out of order';
  const visible = swapped.filter((pair) => pair.every(credited));
  return {
    visible: visible.length,
    flagged: visible.filter((pair) => pair.some(late)).length,
    wrong: marks
      .filter((m) => m.outcome === 'out of order' && !swapped.flat().includes(m.id))
      .map((m) => m.id),
  };
}

export interface Rates {
  readonly precision: number;
  readonly recall: number;
  readonly f1: number;
}

/** F1 is the harmonic mean of precision and recall. A ratio of nothing to nothing is NaN. */
export function rates(hits: number, missed: number, wrong: number): Rates {
  const precision = hits / (hits + wrong);
  const recall = hits / (hits + missed);
  return { precision, recall, f1: (2 * hits) / (2 * hits + missed + wrong) };
}

/** The value below which that share (0–1) of the values lies, by the nearest-rank method; NaN of none. */
export function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? NaN;
}
