/**
 * What the listening side hands to the rehearsal: one stretch of speech between two silences.
 * All times are seconds from the start of the recording.
 */

/** A word as it was recognised. `text` keeps the recogniser's spelling without surrounding punctuation. */
export interface Word {
  readonly text: string;
  readonly start: number;
  readonly end: number;
  /** Half-width in seconds of the interval in which `start` and `end` are believed to lie. */
  readonly uncertainty: number;
}

/**
 * A number heard in an utterance, weighed against the numbers it is easily taken for.
 * `share` and the rivals' shares are posterior probabilities; what they lack to 1 went to hearings without a number.
 */
export interface SpokenNumber {
  readonly value: number;
  readonly share: number;
  /** Indexes into `words`, first and one past the last. */
  readonly from: number;
  readonly to: number;
  /** Other values that fit the sound, best first. Empty when nothing else came near. */
  readonly rivals: readonly { readonly value: number; readonly share: number }[];
}

export interface Utterance {
  /** Counts up from 0 within one listening session. */
  readonly id: number;
  /** The recogniser's text, with its punctuation and capitals. */
  readonly text: string;
  /** Onset of the speech. */
  readonly start: number;
  /** End of the speech, without the trailing silence. */
  readonly end: number;
  /** Half-width in seconds of the interval in which `start` and `end` are believed to lie. */
  readonly uncertainty: number;
  /** 0–1: geometric mean of the recogniser's token probabilities. */
  readonly confidence: number;
  /** The words of `text` split at white space, in order; exactly as many entries as such pieces. */
  readonly words: readonly Word[];
  /** Numbers found in the text with what else they could be. Left out by engines that cannot weigh them. */
  readonly numbers?: readonly SpokenNumber[];
}
