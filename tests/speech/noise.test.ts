import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { activeLevel, meanLevel } from './level.ts';
import { makeNoise, mix, NOISE_KINDS, randomFrom } from './noise.ts';
import { concatenate } from './sound.ts';
import { say } from './voices.ts';

const seconds = (n: number): number => n * SAMPLE_RATE;
const speaker = 'flite-slt';

/** Mean power between two frequencies, by summing the bins of a plain DFT of the first `size` samples at spaced offsets. */
function bandPower(samples: Float32Array, from: number, to: number): number {
  const size = 1024;
  let power = 0;
  for (let at = 0; at + size <= samples.length; at += size * 8) {
    for (let bin = Math.ceil((from * size) / SAMPLE_RATE); bin < (to * size) / SAMPLE_RATE; bin++) {
      let re = 0;
      let im = 0;
      for (let i = 0; i < size; i++) {
        const angle = (2 * Math.PI * bin * i) / size;
        re += samples[at + i]! * Math.cos(angle);
        im -= samples[at + i]! * Math.sin(angle);
      }
      power += re * re + im * im;
    }
  }
  return 10 * Math.log10(power);
}

describe('noise', () => {
  it.each(NOISE_KINDS)(
    '%s is the same for the same seed and another for another',
    async (kind) => {
      const one = await makeNoise(kind, seconds(2), 1, speaker);
      expect(await makeNoise(kind, seconds(2), 1, speaker)).toEqual(one);
      expect(await makeNoise(kind, seconds(2), 2, speaker)).not.toEqual(one);
      expect(one.length).toBe(seconds(2));
      // The first time, the voices of the babble have to be spoken.
    },
    120_000,
  );

  it('called pink has as much power in every octave', async () => {
    const noise = await makeNoise('pink', seconds(20), 3, speaker);
    const octaves = [250, 500, 1000, 2000].map((from) => bandPower(noise, from, 2 * from));
    expect(Math.max(...octaves) - Math.min(...octaves)).toBeLessThan(2);
  });

  it('called tap is broad, with most of its power below 4 kHz', async () => {
    const noise = await makeNoise('tap', seconds(10), 3, speaker);
    const [low, mid, high] = [
      bandPower(noise, 300, 800),
      bandPower(noise, 1500, 4000),
      bandPower(noise, 5000, 8000),
    ];
    expect(Math.abs(low! - mid!)).toBeLessThan(10);
    expect(high!).toBeLessThan(mid!);
    expect(high!).toBeGreaterThan(mid! - 15);
  });
});

describe('mix', () => {
  it('leaves the active level of the speech the wanted number of dB above the noise, and the speech as it was', async () => {
    const line = await say({ voice: speaker, text: 'Some soap on both my hands.' });
    const speech = concatenate([line, new Float32Array(seconds(3)), line]);
    const noise = await makeNoise('tap', speech.length, 5, speaker);
    fc.assert(
      fc.property(fc.double({ min: 0, max: 30, noNaN: true }), (snr) => {
        const added = mix(speech, noise, snr).map((s, i) => s - speech[i]!);
        expect(activeLevel(speech) - meanLevel(added)).toBeCloseTo(snr, 1);
      }),
      { numRuns: 20 },
    );
  });

  it('never leaves −1…1', () => {
    const loud = Float32Array.from({ length: 16_000 }, (_, i) => Math.sin(i / 5));
    const noise = Float32Array.from({ length: 16_000 }, (_, i) => Math.cos(i / 3));
    expect(Math.max(...mix(loud, noise, -10).map(Math.abs))).toBe(1);
  });
});

describe('randomFrom', () => {
  it('is even over [0, 1)', () => {
    const random = randomFrom(11);
    const bins = new Array<number>(10).fill(0);
    for (let i = 0; i < 10_000; i++) bins[Math.floor(random() * 10)]! += 1;
    expect(Math.min(...bins)).toBeGreaterThan(900);
    expect(Math.max(...bins)).toBeLessThan(1100);
  });
});
