import type { Evidence } from './assessment.ts';
import type { Stance } from './polarity.ts';
import type { Utterance } from './utterance.ts';

/**
 * What happens in a rehearsal, one plain JSON value each: the journal on disk and the state on screen are both made of
 * these. Times are seconds from the start of the recording.
 */
export type RehearsalEvent =
  | { readonly type: 'began'; readonly skill: string; readonly variants: Readonly<Record<string, string>> }
  /** `used`: the tokens of the utterance that some mark rests on, so that the next utterance does not use them again. */
  | { readonly type: 'heard'; readonly utterance: Utterance; readonly used: readonly number[] }
  | { readonly type: 'credited'; readonly step: string; readonly evidence: Evidence }
  /** The step may have been said: not enough for a credit, enough to ask. */
  | { readonly type: 'doubted'; readonly step: string; readonly evidence: Evidence; readonly why: Doubt }
  /** The step's words were said in a way that does not do it: denied, planned, asked… */
  | { readonly type: 'noted'; readonly step: string; readonly evidence: Evidence; readonly stance: Stance }
  | {
      readonly type: 'clock';
      readonly step: string;
      readonly move: 'start' | 'on' | 'halt' | 'stop' | 'doubt';
      readonly at: number;
      /** Half-width in seconds of the interval `at` is believed to lie in. */
      readonly uncertainty: number;
      /** Word of the utterance whose start or end `at` is. */
      readonly word: number;
      readonly evidence: Evidence;
    }
  /** The trainee has turned to a joint, by supporting it. */
  | { readonly type: 'joint'; readonly joint: string }
  | {
      readonly type: 'movement';
      readonly step: string;
      readonly joint: string;
      readonly form: 'full' | 'short' | 'named';
      readonly evidence: Evidence;
    }
  | { readonly type: 'repetition'; readonly count: number | 'again'; readonly evidence: Evidence }
  | {
      readonly type: 'reading';
      readonly step: string;
      readonly value: number;
      readonly sure: boolean;
      readonly rivals: readonly number[];
      readonly evidence: Evidence;
    }
  | { readonly type: 'ended'; readonly at: number };

/** Why a step is only doubted: `faint` words, `sounds` alike only, `unclear` sound, or the trainee's own `doubt`. */
export type Doubt = 'faint' | 'sounds' | 'unclear' | 'doubt';
