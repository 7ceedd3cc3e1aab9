import type { StepText } from '../meaning/judge.ts';
import type { Partial, Utterance } from '../language/utterance.ts';

/** What the open skill makes likely to be said. Biases recognition; never limits it. */
export interface Vocabulary {
  /**
   * Trade phrases in lower case, two to six words each ("call light within reach"). No number values:
   * a list that held them turned "eighteen" into "eighty".
   */
  readonly phrases: readonly string[];
  /** The steps that may be said, for the learned judge. */
  readonly steps?: readonly StepText[];
}

/** What went wrong while listening, in words a user can act on. */
export interface Trouble {
  /** `restarted`: the engine failed and goes on; marks come late. `judge`: the rules mark alone. */
  readonly kind: 'model' | 'behind' | 'engine' | 'restarted' | 'judge';
  readonly message: string;
}

/** Everything a listener has to say. Times are seconds of sound fed since `start`. */
export type ListenerEvent =
  | { readonly type: 'speech'; readonly at: number }
  | ({ readonly type: 'partial' } & Partial)
  | { readonly type: 'utterance'; readonly utterance: Utterance }
  | { readonly type: 'trouble'; readonly trouble: Trouble };

/** The seam between sound and words. One engine stands behind it; the rest of the house never knows which. */
export interface Listener {
  /** Begins (or begins again, with another vocabulary): time 0 is the next sample fed. */
  start(vocabulary: Vocabulary): Promise<void>;
  /** What is likely from now on, without a new beginning: the next skill of a test was opened. */
  expect(vocabulary: Vocabulary): Promise<void>;
  /**
   * Takes mono samples, −1…1 at 16 kHz, any number of them. Resolves when the sound has been taken in and every
   * event it led to has been sent; await it to keep memory flat when feeding faster than real time.
   */
  feed(samples: Float32Array): Promise<void>;
  /**
   * Finds the times of some words of the latest utterances more exactly. Costs a few decodings a word.
   * `wanted` are indexes into `utterance.words`. Answers the utterance with those words' times renewed and their
   * uncertainty lowered; the utterance itself when its sound is no longer held.
   */
  pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance>;
  /** Ends the session: whatever speech is pending is recognised and sent first. */
  stop(): Promise<void>;
}
