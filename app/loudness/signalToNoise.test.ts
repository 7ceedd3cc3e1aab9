import fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import { makeNoise, mix } from '../../tests/speech/noise.ts';
import { concatenate } from '../../tests/speech/sound.ts';
import { prepare, say, type VoiceId } from '../../tests/speech/voices.ts';
import { FRAMES_PER_SECOND, framePowers } from './activeLevel.ts';
import { noiseLevel, signalToNoise, speechLevelOver } from './signalToNoise.ts';

const RATE = 16_000;
/** Seconds of tap alone, as in the sound check. */
const ALONE = 5;

const VOICES = ['flite-slt', 'flite-rms', 'espeak-gb'] as const satisfies readonly VoiceId[];
/** The sentence of the sound check, and a short one. */
const LINES = [
  'I dry my hands with a clean paper towel, and the call light is within reach.',
  'Now I take some soap, and I lather my hands.',
];

beforeAll(() => prepare(VOICES.flatMap((voice) => LINES.map((text) => ({ voice, text })))), 120_000);

/** By how much the estimate misses the distance that a line was mixed at, dB. */
async function errorAt(snr: number, voice: VoiceId, text: string, seed: number): Promise<number> {
  const line = await say({ voice, text });
  const sound = concatenate([new Float32Array(ALONE * RATE), line]);
  const powers = framePowers(mix(sound, await makeNoise('tap', sound.length, seed, voice), snr));
  const from = ALONE * FRAMES_PER_SECOND;
  return signalToNoise(powers.slice(0, from), powers.slice(from))!.snr - snr;
}

describe('signal to noise', () => {
  it.each([
    // dB, and the largest and the mean error allowed. When written they were 0.83 and 0.13, 0.64 and −0.10, 0.81 and −0.09, 1.83 and 0.34 dB.
    [20, 1.5, 0.5],
    [10, 1.5, 0.5],
    [5, 1.5, 0.5],
    [0, 2.5, 0.7],
  ])('is near what a tap was mixed at: %i dB', async (snr, most, mean) => {
    const errors: number[] = [];
    for (const voice of VOICES)
      for (const text of LINES) for (const seed of [1, 2]) errors.push(await errorAt(snr, voice, text, seed));
    const average = errors.reduce((sum, e) => sum + e, 0) / errors.length;
    const largest = Math.max(...errors.map(Math.abs));
    expect(largest).toBeLessThan(most);
    expect(Math.abs(average)).toBeLessThan(mean);
  });

  it('rises with the voice, and does not change with the loudness of both', () => {
    const level = fc.double({ min: 1e-6, max: 1e-3, noNaN: true });
    const noise = fc.array(level, { minLength: 60, maxLength: 200 });
    const factor = fc.double({ min: 1.1, max: 100, noNaN: true });
    fc.assert(
      fc.property(noise, fc.array(level, { minLength: 60, maxLength: 200 }), factor, (quiet, voice, by) => {
        const under = quiet.reduce((a, b) => a + b) / quiet.length;
        const even = new Array<number>(60).fill(under);
        const measured = signalToNoise(
          even,
          voice.map((p) => p + under),
        )!;
        const louder = signalToNoise(
          even,
          voice.map((p) => by * p + under),
        )!;
        expect(louder.snr - measured.snr).toBeCloseTo(10 * Math.log10(by), 3);
        const both = signalToNoise(
          even.map((p) => by * p),
          voice.map((p) => by * (p + under)),
        )!;
        expect(both.snr).toBeCloseTo(measured.snr, 3);
      }),
    );
  });

  it('takes no knock for the tap', () => {
    const tap = new Array<number>(200).fill(1e-5);
    const knock = tap.map((p, i) => (i > 90 && i < 110 ? 0.1 : p));
    expect(noiseLevel(knock)).toBeCloseTo(-50, 5);
  });

  it('is not measured from next to nothing', () => {
    const tap = new Array<number>(200).fill(1e-5);
    expect(noiseLevel(tap.slice(0, 40))).toBeNull();
    expect(speechLevelOver(tap.slice(0, 40), -60)).toBeNull();
    expect(signalToNoise(tap, tap)).toBeNull();
    expect(signalToNoise([], tap)).toBeNull();
    // Digital silence: the noise is at the floor, not at −∞.
    expect(signalToNoise(new Array<number>(100).fill(0), tap)?.noise).toBe(-90);
  });
});
