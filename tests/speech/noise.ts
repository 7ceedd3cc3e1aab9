import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { activeLevel, meanLevel } from './level.ts';
import { concatenate } from './sound.ts';
import { prepare, say, VOICE_IDS, type VoiceId } from './voices.ts';

export const NOISE_KINDS = ['tap', 'pink', 'babble'] as const;
export type NoiseKind = (typeof NOISE_KINDS)[number];

/**
 * Noise of that kind and length, the same for the same seed; its level is arbitrary. Babble leaves out `speaker`, the
 * voice it will be mixed with.
 */
export async function makeNoise(
  kind: NoiseKind,
  samples: number,
  seed: number,
  speaker: VoiceId,
): Promise<Float32Array> {
  switch (kind) {
    case 'tap':
      return tap(samples, seed);
    case 'pink':
      return pink(samples, seed);
    case 'babble':
      return babble(samples, seed, speaker);
  }
}

/**
 * Lays noise under speech so that the speech's active level stands `snr` dB above the noise's mean level, the speech
 * unchanged. What goes beyond full scale is clipped, as a microphone would.
 */
export function mix(speech: Float32Array, noise: Float32Array, snr: number): Float32Array {
  const gain = 10 ** ((activeLevel(speech) - snr - meanLevel(noise)) / 20);
  return speech.map((s, i) => Math.max(-1, Math.min(1, s + gain * noise[i]!)));
}

/** Seeds follow from the names, so that a slice of the corpus hears the same noise as the whole. */
export function seedOf(name: string): number {
  return [...name].reduce((seed, c) => (Math.imul(seed, 31) + c.charCodeAt(0)) >>> 0, 7);
}

/** Uniform random numbers in [0, 1): the "mulberry32" generator (Tommy Ettinger, public domain). */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

function white(samples: number, random: () => number): Float32Array {
  return Float32Array.from({ length: samples }, () => 2 * random() - 1);
}

/**
 * A tap running into a sink, or near enough to trouble a recogniser as one does: broad noise with a hump around 500 Hz
 * (water on the bowl) and one around 2.5 kHz (the jet), both swelling slowly; and bubbles, which ring at their own frequency
 * and die away (Minnaert 1933: 3.26 / radius in metres, so 2–8 mm ring at 400–1600 Hz).
 */
function tap(samples: number, seed: number): Float32Array {
  const random = randomFrom(seed);
  const bowl = bandpass(white(samples, random), 500, 0.7);
  const jet = bandpass(white(samples, random), 2500, 0.5);
  const hiss = white(samples, random);
  const [slow, slower] = [swell(samples, 0.9, random), swell(samples, 0.25, random)];
  const water = bowl.map((b, i) => b * slow[i]! + 0.9 * jet[i]! * slower[i]! + 0.08 * hiss[i]!);
  const bubbles = Math.round((samples / SAMPLE_RATE) * 12);
  for (let n = 0; n < bubbles; n++) {
    const radius = 0.002 + 0.006 * random();
    const step = (2 * Math.PI * (3.26 / radius)) / SAMPLE_RATE;
    const decay = SAMPLE_RATE * (0.01 + 0.03 * random());
    const loud = 0.5 * random();
    const at = Math.floor(random() * samples);
    const end = Math.min(samples, at + Math.round(5 * decay));
    // A bubble nears the surface while it rings, and so its pitch rises a little.
    for (let i = at; i < end; i++)
      water[i]! +=
        loud * Math.exp((at - i) / decay) * Math.sin(step * (i - at) * (1 + (i - at) / (40 * decay)));
  }
  return water;
}

/** A gain around 1 that wanders between 0.6 and 1.4, about `rate` times a second. */
function swell(samples: number, rate: number, random: () => number): Float32Array {
  const every = Math.round(SAMPLE_RATE / rate);
  const points = Float32Array.from({ length: Math.ceil(samples / every) + 2 }, () => 0.6 + 0.8 * random());
  return Float32Array.from({ length: samples }, (_, i) => {
    const at = Math.floor(i / every);
    const blend = (1 - Math.cos((Math.PI * (i % every)) / every)) / 2;
    return points[at]! * (1 - blend) + points[at + 1]! * blend;
  });
}

/**
 * Second-order band-pass with a peak gain of 1: the biquad of Robert Bristow-Johnson's "Cookbook formulae for audio EQ biquad
 * filter coefficients" (BPF, constant 0 dB peak gain).
 */
function bandpass(input: Float32Array, hertz: number, q: number): Float32Array {
  const w = (2 * Math.PI * hertz) / SAMPLE_RATE;
  const alpha = Math.sin(w) / (2 * q);
  const [b, a1, a2] = [alpha / (1 + alpha), (-2 * Math.cos(w)) / (1 + alpha), (1 - alpha) / (1 + alpha)];
  let [x1, x2, y1, y2] = [0, 0, 0, 0];
  return input.map((x) => {
    const y = b * (x - x2) - a1 * y1 - a2 * y2;
    [x2, x1, y2, y1] = [x1, x, y1, y];
    return y;
  });
}

/**
 * Pink noise (3 dB an octave down) by Voss's algorithm (Gardner, "White and brown music, fractal curves and one-over-f
 * fluctuations", 1978): sources each renewed half as often as the one before. With 14 of them it is pink down to 1 Hz.
 */
function pink(samples: number, seed: number): Float32Array {
  const random = randomFrom(seed);
  const sources = Float32Array.from({ length: 14 }, () => 2 * random() - 1);
  return Float32Array.from({ length: samples }, (_, i) => {
    // As many sources are renewed as the counter has trailing zeros: McCartney's ordering of Voss's rolls.
    const which = Math.min(sources.length - 1, 31 - Math.clz32((i + 1) & -(i + 1)));
    sources[which] = 2 * random() - 1;
    return sources.reduce((sum, s) => sum + s, 2 * random() - 1);
  });
}

/** How many people talk at once. With fewer, single words stand out and the noise is a second speaker. */
const BABBLERS = 6;

const TABLE_TALK = [
  'The train leaves from the second platform, it always has, but this week they have moved it.',
  'We had snow up to the windows that winter and the school stayed shut until March.',
  'He bought a boat without asking anybody and now it stands in the garden.',
  'If the soup is too thick you can put a little milk in, that is what my aunt does.',
  'They play cards every evening and nobody is allowed to speak before the first trick.',
  'The new neighbours have a piano and four children and none of them can play it.',
  'I read the whole book on the way and then I left it on the seat.',
  'It was so hot that the butter melted in the shop and they sold it with a spoon.',
  'Her brother repairs clocks, big ones, in church towers all over the county.',
  'You would not believe how much a lemon costs these days at the corner store.',
  'The dog found the way home by himself, eleven miles and across two rivers.',
  'They painted the bridge green and by the time they had finished it was rusty again.',
];

/** Several voices telling different things at once, each beginning somewhere else and going round. */
async function babble(samples: number, seed: number, speaker: VoiceId): Promise<Float32Array> {
  const random = randomFrom(seed);
  const voices = VOICE_IDS.filter((id) => id !== speaker);
  const tables = Array.from({ length: BABBLERS }, (_, n) => ({
    voice: voices[n % voices.length]!,
    talk: TABLE_TALK.map((text) => ({ text, rank: random() }))
      .sort((a, b) => a.rank - b.rank)
      .map(({ text }) => text),
    from: random(),
  }));
  await prepare(tables.flatMap(({ voice, talk }) => talk.map((text) => ({ voice, text }))));
  const sum = new Float32Array(samples);
  for (const { voice, talk, from } of tables) {
    const gap = new Float32Array(SAMPLE_RATE / 4);
    const lines = await Promise.all(talk.map((text) => say({ voice, text })));
    const loop = concatenate(lines.flatMap((line) => [line, gap]));
    const offset = Math.floor(from * loop.length);
    for (let i = 0; i < samples; i++) sum[i]! += loop[(offset + i) % loop.length]!;
  }
  return sum;
}
