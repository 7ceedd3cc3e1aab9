/**
 * Whether a room, a tap and a microphone will do: levels, noise floor and a test sentence, made into one plain verdict.
 * Pure: the sound comes in as pieces of some 0.1 s. Levels are dBFS: 20·log10 of the amplitude, full scale (1) being 0.
 */

/** Lowest level told apart from nothing at all: about one step of 16-bit sound. */
export const SILENCE = -96;

/** Loudness of one piece of sound. */
export interface Level {
  /** Root mean square, dBFS. */
  readonly rms: number;
  /** Largest amplitude, dBFS. */
  readonly peak: number;
  /** Share of samples at full scale, 0–1. */
  readonly clipped: number;
}

/** Amplitude from which a sample counts as clipped: the last thousandth before full scale. */
const FULL_SCALE = 0.999;

/** Measures a piece of sound, −1…1. A piece without samples is silent. */
export function levelOf(samples: Float32Array): Level {
  let squares = 0;
  let peak = 0;
  let clipped = 0;
  for (const sample of samples) {
    const size = Math.abs(sample);
    squares += sample * sample;
    if (size > peak) peak = size;
    if (size >= FULL_SCALE) clipped += 1;
  }
  const count = Math.max(1, samples.length);
  return { rms: decibels(Math.sqrt(squares / count)), peak: decibels(peak), clipped: clipped / count };
}

/** dBFS of an amplitude, never below {@link SILENCE}. */
function decibels(amplitude: number): number {
  return Math.max(SILENCE, 20 * Math.log10(amplitude));
}

/**
 * Noise floor of a stretch in which nobody spoke: the median level, so that a cough or a dropped soap dish does not
 * count. Null when there is nothing to measure.
 */
export function noiseFloor(levels: readonly Level[]): number | null {
  return quantile(
    levels.map((level) => level.rms),
    0.5,
  );
}

/** Level of the speech in a stretch that also holds pauses: speech fills well over its loudest fifth. */
export function speechLevel(levels: readonly Level[]): number | null {
  return quantile(
    levels.map((level) => level.rms),
    0.8,
  );
}

function quantile(values: readonly number[], share: number): number | null {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? null;
}

/** What the trainee is asked to say: words of the trade, easily taken for others, and long enough to measure. */
export const TEST_SENTENCE = 'I dry my hands with a clean paper towel, and the call light is within reach.';

/** Share of a sentence's words that were heard, in their order, 0–1. Capitals and punctuation do not count. */
export function sentenceScore(said: string, heard: string): number {
  const [wanted, got] = [wordsIn(said), wordsIn(heard)];
  if (wanted.length === 0) return 0;
  // Longest common subsequence, row by row.
  let row = new Array<number>(got.length + 1).fill(0);
  for (const word of wanted) {
    const next = [0];
    got.forEach((other, i) => {
      const [across = 0, above = 0, left = 0] = [row[i], row[i + 1], next[i]];
      next.push(other === word ? across + 1 : Math.max(above, left));
    });
    row = next;
  }
  return (row.at(-1) ?? 0) / wanted.length;
}

const wordsIn = (text: string): string[] => text.toLowerCase().match(/[a-z0-9']+/g) ?? [];

export interface SoundCheck {
  /** With the tap running and nobody speaking. */
  readonly quiet: readonly Level[];
  /** While the test sentence was said. */
  readonly spoken: readonly Level[];
  /** What was heard of it: empty when nothing was, null when nothing could recognise it. */
  readonly heard: string | null;
}

export interface Verdict {
  readonly kind: 'good' | 'fair' | 'no sound' | 'too loud' | 'too quiet' | 'noisy' | 'unclear';
  /** What is the matter and what to do, in one or two sentences. */
  readonly text: string;
}

/**
 * How far speech must stand above the noise, dB. Measured word errors of the default model: at 10 dB about as in
 * quiet, at 5 dB three times as many, at 0 dB useless.
 */
const GOOD_DISTANCE = 10;
const LEAST_DISTANCE = 5;

/**
 * Below this a microphone gives nothing: any live one, in the quietest room, is louder. Muted ones are silent to the
 * last bit.
 */
export const DEAD_BELOW = -85;

/** Speech below this is lost among a cheap microphone's own noise; found by ear, a stricter bound than the detector's. */
const QUIET_BELOW = -50;

/** Share of clipped samples from which speech is distorted audibly. */
const CLIPPED_FROM = 0.001;

/** Share of the words of the sentence. Above: as good as heard whole. Below the lower: not to be relied on. */
const HEARD_WELL = 0.9;
const HEARD_ENOUGH = 0.65;

/** Whether the sound will do. Faults of the sound come first, for they explain the words that were not heard. */
export function judgeSound({ quiet, spoken, heard }: SoundCheck): Verdict {
  const floor = noiseFloor(quiet) ?? SILENCE;
  const speech = speechLevel(spoken) ?? SILENCE;
  const peak = Math.max(SILENCE, ...[...quiet, ...spoken].map((level) => level.peak));
  const clipped = spoken.reduce((sum, level) => sum + level.clipped, 0) / Math.max(1, spoken.length);
  const score = heard === null ? 1 : sentenceScore(TEST_SENTENCE, heard);
  if (peak < DEAD_BELOW)
    return {
      kind: 'no sound',
      text: 'This microphone gives no sound. See whether it is muted, or choose another one.',
    };
  if (clipped > CLIPPED_FROM)
    return {
      kind: 'too loud',
      text: 'The sound is too loud and breaks up. Move the microphone further away, or turn its level down.',
    };
  if (speech - floor < LEAST_DISTANCE)
    return floor > QUIET_BELOW
      ? {
          kind: 'noisy',
          text: 'The tap is too loud for this microphone: move it closer to you, or let less water run.',
        }
      : { kind: 'too quiet', text: 'You were hardly heard. Move the microphone closer, and speak up.' };
  if (speech < QUIET_BELOW)
    return {
      kind: 'too quiet',
      text: 'Your voice is very quiet here. Move the microphone closer, or speak up.',
    };
  if (score < HEARD_ENOUGH)
    return {
      kind: 'unclear',
      text:
        heard === ''
          ? 'Your voice came through, but no words were recognised. Say the sentence again, a little slower.'
          : 'Too many words were heard wrongly. Move the microphone closer, face it, and say the sentence again.',
    };
  if (speech - floor < GOOD_DISTANCE)
    return {
      kind: 'fair',
      text: 'It will do, but the tap is loud. Closer to the microphone, or with less water, you are heard better.',
    };
  if (score < HEARD_WELL)
    return {
      kind: 'fair',
      text: 'It will do, but some words were heard wrongly. Speak clearly and towards the microphone.',
    };
  return heard === null
    ? {
        kind: 'fair',
        text: 'Loud and clear enough. Words were not checked: the speech model is not here yet.',
      }
    : { kind: 'good', text: 'Good: you are heard clearly over the tap.' };
}
