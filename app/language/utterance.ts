import { z } from 'zod';
import { findNumbers } from './numbers.ts';
import { piecesOf } from './words.ts';

/**
 * What the listening side hands to the rehearsal: one stretch of speech between two silences.
 * All times are seconds from the start of the recording.
 */

const seconds = z.number();

/** A word as it was recognised. `text` keeps the recogniser's spelling without surrounding punctuation. */
const WordSchema = z
  .object({
    text: z.string(),
    start: seconds,
    end: seconds,
    /** Half-width in seconds of the interval in which `start` and `end` are believed to lie. */
    uncertainty: seconds,
    /** 0–1: how sure the recogniser is of this word. Left out by engines that cannot say. */
    confidence: z.number().min(0).max(1).exactOptional(),
  })
  .readonly();
export type Word = z.infer<typeof WordSchema>;

/**
 * A number heard in an utterance, weighed against the numbers it is easily taken for.
 * `share` and the rivals' shares are posterior probabilities; what they lack to 1 went to hearings without a number.
 */
const SpokenNumberSchema = z
  .object({
    value: z.number(),
    share: z.number(),
    /** Indexes into `words`, first and one past the last. */
    from: z.number().int(),
    to: z.number().int(),
    /** Other values that fit the sound, best first. Empty when nothing else came near. */
    rivals: z.array(z.object({ value: z.number(), share: z.number() }).readonly()).readonly(),
  })
  .readonly();
export type SpokenNumber = z.infer<typeof SpokenNumberSchema>;

/** What an engine made of one stretch of speech. */
const hearing = {
  /** The recogniser's text, with its punctuation and capitals. */
  text: z.string(),
  /** Onset of the speech. */
  start: seconds,
  /** End of the speech, without the trailing silence. */
  end: seconds,
  /** Half-width in seconds of the interval in which `start` and `end` are believed to lie. */
  uncertainty: seconds,
  /** 0–1: geometric mean of the recogniser's token probabilities. */
  confidence: z.number().min(0).max(1),
  /** The words of `text` split at white space, in order; exactly as many entries as such pieces. */
  words: z.array(WordSchema).readonly(),
  /**
   * Numbers found in the text with what else they could be. Left out by engines that cannot weigh them. "Left out" and
   * "undefined" are told apart inside the house.
   */
  numbers: z.array(SpokenNumberSchema).readonly().exactOptional(),
};

/** What the learned judge makes of a sentence. */
export const JudgedSchema = z
  .object({
    /** The sentence's words as indexes into `words`, first and one past the last. */
    from: z.number().int().nonnegative(),
    to: z.number().int().positive(),
    /** 0–1 by step id: how sure it is that the sentence says the step. Steps that are far from the sentence are left out. */
    sure: z.record(z.string(), z.number().min(0).max(1)).readonly(),
  })
  .readonly();
export type Judged = z.infer<typeof JudgedSchema>;

export const UtteranceSchema = z
  .object({
    /** Counts up from 0 within one listening session. */
    id: z.number().int().nonnegative(),
    ...hearing,
    /** What another engine, which listened at the same time, heard in the same stretch; left out where one listened. */
    second: z.object(hearing).readonly().exactOptional(),
    /** What each sentence says by the learned judge; left out where none was at work. */
    judged: z.array(JudgedSchema).readonly().exactOptional(),
  })
  .readonly();
export type Utterance = z.infer<typeof UtteranceSchema>;

/** What a listener makes of speech that still goes on. Times are seconds from the start of the recording. */
export interface Partial {
  readonly text: string;
  readonly start: number;
  /** Up to where the speech was heard. */
  readonly end: number;
  /** What the learned judge makes of it; left out where none was at work. */
  readonly judged?: readonly Judged[];
}

/** An utterance made of a text, sure of its words, which are spread evenly over its time. */
export function utteranceOf({
  id,
  text,
  start,
  end,
}: Pick<Utterance, 'id' | 'text' | 'start' | 'end'>): Utterance {
  const pieces = piecesOf(text);
  const each = Math.max(0, end - start) / Math.max(1, pieces.length);
  const words = pieces.map((piece, i) => ({
    text: piece,
    start: start + i * each,
    end: start + (i + 1) * each,
    uncertainty: each,
  }));
  return { id, text, start, end, uncertainty: each, confidence: 1, words };
}

/** Seconds a word takes in talk that was never spoken. Slow talk: 170 words a minute. */
const WORD = 0.35;

/**
 * A text that begins and ends at a time in seconds, as a perfect recogniser hears it: sure of its words and of its numbers. Without an
 * end it is as long as slow talk would make it.
 */
export function heardClearly(id: number, text: string, start: number, end?: number): Utterance {
  const pieces = piecesOf(text);
  const numbers = findNumbers(pieces).map((n) => ({ ...n, share: 1, rivals: [] }));
  return { ...utteranceOf({ id, text, start, end: end ?? start + WORD * pieces.length }), numbers };
}

/** An utterance as it was before the learned judge heard it. */
export function withoutJudge({ judged, ...heard }: Utterance): Utterance {
  void judged;
  return heard;
}

/** A stretch of an utterance's words: from one, up to and without another. */
export function wordsFrom(utterance: Utterance, from: number, to = utterance.words.length): Utterance {
  const { second, judged, ...heard } = utterance;
  const stretched = stretch(heard, from, to);
  if (stretched === heard) return utterance;
  const part = {
    ...stretched,
    ...(judged && {
      judged: judged
        .filter((j) => j.from >= from && j.to <= to)
        .map((j) => ({ ...j, from: j.from - from, to: j.to - from })),
    }),
  };
  if (!second) return part;
  const within = second.words.map(
    (w) => (w.start + w.end) / 2 >= part.start && (w.start + w.end) / 2 < part.end,
  );
  return {
    ...part,
    second: stretch(second, Math.max(0, within.indexOf(true)), within.lastIndexOf(true) + 1),
  };
}

function stretch<H extends Omit<Utterance, 'id' | 'second' | 'judged'>>(
  heard: H,
  from: number,
  to: number,
): H {
  const words = heard.words.slice(from, to);
  const first = words[0];
  const last = words.at(-1);
  if (!first || !last || words.length === heard.words.length) return heard;
  const { numbers, start, end, uncertainty } = heard;
  return {
    ...heard,
    text: piecesOf(heard.text).slice(from, to).join(' '),
    start: from === 0 ? start : first.start,
    end: to === heard.words.length ? end : last.end,
    uncertainty: Math.max(uncertainty, from === 0 ? 0 : first.uncertainty, last.uncertainty),
    words,
    ...(numbers && {
      numbers: numbers
        .filter((n) => n.from >= from && n.to <= to)
        .map((n) => ({ ...n, from: n.from - from, to: n.to - from })),
    }),
  };
}
