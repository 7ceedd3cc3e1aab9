import { randomFrom, type Random } from '../skills/random.ts';
import type { Breath } from './breaths.ts';
import type { Phase } from './pressure.ts';
import type { Beat } from './pulse.ts';

/** Samples from −1 to 1, in memory of their own. */
export type Samples = Float32Array<ArrayBuffer>;

/** Loudest sample of each sound in dBFS, 0 being full scale. Phases differ as taught: the third is the loudest, the fourth faint. */
export const LEVELS = {
  breath: -26,
  beat: -16,
  tick: { plain: -34, quarter: -26 },
  korotkoff: { 1: -14, 2: -18, 3: -10, 4: -20 },
} as const;

export const fromDecibels = (level: number): number => 10 ** (level / 20);

/** Samples `seconds` long, each from its own time, brought to a loudest sample of `level` dBFS. */
function shape(seconds: number, rate: number, level: number, at: (t: number) => number): Samples {
  const samples = new Float32Array(Math.max(1, Math.round(seconds * rate)));
  let loudest = 0;
  for (let i = 0; i < samples.length; i++) {
    const sample = at(i / rate);
    samples[i] = sample;
    loudest = Math.max(loudest, Math.abs(sample));
  }
  const gain = loudest > 0 ? fromDecibels(level) / loudest : 0;
  for (let i = 0; i < samples.length; i++) samples[i]! *= gain; // within
  return samples;
}

/** Noise between two frequencies in Hz: white noise through a low pass and a high pass of the first order. */
function noise(random: Random, rate: number, from: number, to: number): () => number {
  const [slow, fast] = [1 - Math.exp((-2 * Math.PI * from) / rate), 1 - Math.exp((-2 * Math.PI * to) / rate)];
  let [low, all] = [0, 0];
  return () => {
    all += fast * (2 * random() - 1 - all);
    low += slow * (all - low);
    return all - low;
  };
}

/** A tone that begins at once and dies away, `seconds` to a third of its height. */
const tone = (t: number, hertz: number, seconds: number): number =>
  Math.sin(2 * Math.PI * hertz * t) * Math.exp(-t / seconds);

/** Rises within the first hundredth of a second, so that nothing clicks. */
const softly = (t: number): number => Math.min(1, t / 0.01);

/** A breath: a soft rush going in, a lower and softer one going out; it begins with the breath and is louder for a deep one. */
export function breathSound({ rise, fall, depth }: Breath, rate: number, seed: number): Samples {
  const random = randomFrom(seed);
  const goingIn = noise(random, rate, 350, 1400);
  const goingOut = noise(random, rate, 200, 700);
  const level = LEVELS.breath + 20 * Math.log10(Math.min(1, 0.5 + depth / 2));
  // Each half swells at once and dies away, as the flow does that the chest's movement shows.
  return shape(rise + fall, rate, level, (t) =>
    t < rise
      ? goingIn() * Math.min(1, t / 0.12) * (1 - t / rise)
      : 0.6 * goingOut() * Math.min(1, (t - rise) / 0.12) * (1 - (t - rise) / fall),
  );
}

/** A beat under the fingers, made audible: a short low thud, with enough above 150 Hz for small loudspeakers. */
export const beatSound = ({ strength }: Pick<Beat, 'strength'>, rate: number): Samples =>
  shape(0.16, rate, LEVELS.beat + 20 * Math.log10(strength), (t) => softly(t) * thud(t));

const thud = (t: number): number => tone(t, 70, 0.05) + 0.6 * tone(t, 150, 0.035) + 0.25 * tone(t, 300, 0.02);

/** The tick of a clock's second hand, louder at each quarter of its round. */
export const tickSound = (isQuarter: boolean, rate: number): Samples =>
  shape(0.03, rate, LEVELS.tick[isQuarter ? 'quarter' : 'plain'], (t) =>
    tone(t, isQuarter ? 1200 : 900, 0.006),
  );

/** A Korotkoff sound: most of it lies below 200 Hz, and it gets lower towards the last ones (common teaching, from memory). */
export function korotkoffSound(phase: Phase, rate: number, seed: number): Samples {
  const random = randomFrom(seed);
  const swish = noise(random, rate, 120, 420);
  const click = noise(random, rate, 200, 900);
  const sounds: Readonly<Record<Phase, (t: number) => number>> = {
    // A clear tap.
    1: (t) => tone(t, 160, 0.022) + 0.8 * click() * Math.exp(-t / 0.012),
    // A softer tap that runs out in a swish.
    2: (t) => 0.5 * tone(t, 120, 0.03) + 2.5 * swish() * Math.exp(-t / 0.07),
    // A crisp thump.
    3: (t) => tone(t, 110, 0.035) + 0.5 * tone(t, 220, 0.02) + 0.4 * click() * Math.exp(-t / 0.01),
    // A muffled blow.
    4: (t) => tone(t, 65, 0.045) + 0.15 * tone(t, 130, 0.03),
  };
  const sound = sounds[phase];
  return shape(0.2, rate, LEVELS.korotkoff[phase], (t) => softly(t) * sound(t));
}

/** A track of sounds laid one over another, each from its own moment in seconds; what lies outside it is cut off. */
export function track(
  seconds: number,
  rate: number,
  sounds: readonly { readonly at: number; readonly samples: Float32Array }[],
): Samples {
  const whole = new Float32Array(Math.round(seconds * rate));
  for (const { at, samples } of sounds) {
    const start = Math.round(at * rate);
    samples.forEach((sample, i) => {
      const place = start + i;
      if (place >= 0 && place < whole.length) whole[place]! += sample; // within
    });
  }
  return whole;
}
