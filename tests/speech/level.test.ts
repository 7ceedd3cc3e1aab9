import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { activeLevel, amplify, meanLevel, trimSilence } from './level.ts';
import { concatenate } from './sound.ts';

/** A tone of that peak; its level is 3.01 dB under the peak's. */
function tone(seconds: number, peak: number): Float32Array {
  return Float32Array.from(
    { length: Math.round(seconds * SAMPLE_RATE) },
    (_, i) => peak * Math.sin((2 * Math.PI * 500 * i) / SAMPLE_RATE),
  );
}
const silence = (seconds: number): Float32Array => new Float32Array(Math.round(seconds * SAMPLE_RATE));

describe('activeLevel', () => {
  it('is a full-scale tone’s RMS: −3.01 dBov', () => {
    expect(activeLevel(tone(1, 1))).toBeCloseTo(-3.01, 2);
  });

  it('does not fall when there are pauses', () => {
    const paused = concatenate([tone(1, 0.1), silence(9), tone(1, 0.1)]);
    expect(activeLevel(paused)).toBeCloseTo(activeLevel(tone(1, 0.1)), 5);
    expect(meanLevel(paused)).toBeLessThan(activeLevel(paused) - 7);
  });

  it('leaves out a hum far under the speech', () => {
    const hum = concatenate([tone(1, 0.1), tone(9, 0.001)]);
    expect(activeLevel(hum)).toBeCloseTo(activeLevel(tone(1, 0.1)), 5);
  });

  it('rises by as much as the sound is amplified', () => {
    const sound = concatenate([tone(0.5, 0.02), silence(0.3), tone(0.5, 0.05)]);
    fc.assert(
      fc.property(fc.double({ min: -20, max: 20, noNaN: true }), (gain) => {
        expect(activeLevel(amplify(sound, gain))).toBeCloseTo(activeLevel(sound) + gain, 3);
      }),
    );
  });

  it('is −∞ for silence', () => {
    expect(activeLevel(silence(1))).toBe(-Infinity);
  });
});

describe('trimSilence', () => {
  it('cuts both ends and nothing inside', () => {
    const inside = concatenate([tone(0.2, 0.3), silence(0.4), tone(0.2, 0.3)]);
    expect(trimSilence(concatenate([silence(0.5), inside, silence(0.7)])).length).toBe(inside.length);
  });

  it('leaves nothing of silence', () => {
    expect(trimSilence(silence(1)).length).toBe(0);
  });
});
