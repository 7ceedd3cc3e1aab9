import { describe, expect, it } from 'vitest';
import { BREATH_PATTERNS, breathe, breathsInMinute } from './breaths.ts';
import type { Phase } from './pressure.ts';
import { beat, beatsAMinute, PULSE_PATTERNS } from './pulse.ts';
import { beatSound, breathSound, fromDecibels, korotkoffSound, LEVELS, tickSound, track } from './sound.ts';

const PHASES: readonly Phase[] = [1, 2, 3, 4];
const peak = (samples: Float32Array): number => samples.reduce((most, s) => Math.max(most, Math.abs(s)), 0);

/** How often the loudness rises from nothing: sounds that are apart, counted from the samples alone. */
function onsets(samples: Float32Array, rate: number): number {
  const size = Math.round(rate / 50);
  const loud = Array.from(
    { length: Math.floor(samples.length / size) },
    (_, i) => peak(samples.subarray(i * size, (i + 1) * size)) > fromDecibels(-70),
  );
  return loud.filter((is, i) => is && !loud[i - 1] && !loud[i - 2] && !loud[i - 3]).length;
}

/** Share of the energy below a frequency, by a plain Fourier sum over whole hertz. */
function energyBelow(samples: Float32Array, rate: number, hertz: number): number {
  const power = (at: number): number => {
    let [real, imaginary] = [0, 0];
    samples.forEach((sample, i) => {
      real += sample * Math.cos((2 * Math.PI * at * i) / rate);
      imaginary += sample * Math.sin((2 * Math.PI * at * i) / rate);
    });
    return real * real + imaginary * imaginary;
  };
  const powers = Array.from({ length: 200 }, (_, i) => power(10 + i * 10));
  const sum = (values: readonly number[]): number => values.reduce((all, p) => all + p, 0);
  return sum(powers.slice(0, Math.round(hertz / 10))) / sum(powers);
}

describe('the sounds', () => {
  it('are the same for the same seed, at the level they are said to have, without clicks or clipping', () => {
    const sounds = [
      { samples: breathSound({ at: 0, rise: 1.4, fall: 1.6, depth: 1 }, 16_000, 3), level: LEVELS.breath },
      { samples: beatSound({ strength: 1 }, 16_000), level: LEVELS.beat },
      { samples: tickSound(true, 16_000), level: LEVELS.tick.quarter },
      ...PHASES.map((phase) => ({
        samples: korotkoffSound(phase, 16_000, 3),
        level: LEVELS.korotkoff[phase],
      })),
    ];
    for (const { samples, level } of sounds) {
      expect(20 * Math.log10(peak(samples))).toBeCloseTo(level, 3);
      expect(Math.abs(samples[0]!)).toBeLessThan(0.02 * peak(samples)); // never empty
      expect(Math.abs(samples.at(-1)!)).toBeLessThan(0.1 * peak(samples));
    }
    expect(korotkoffSound(2, 16_000, 3)).toEqual(korotkoffSound(2, 16_000, 3));
    expect(korotkoffSound(2, 16_000, 3)).not.toEqual(korotkoffSound(2, 16_000, 4));
  });

  it('differ from phase to phase as taught: the third loudest, the fourth lowest (from memory)', () => {
    const levels = PHASES.map((phase) => LEVELS.korotkoff[phase]);
    expect(Math.max(...levels)).toBe(LEVELS.korotkoff[3]);
    const low = PHASES.map((phase) => energyBelow(korotkoffSound(phase, 4_000, 1), 4_000, 100));
    expect(Math.max(...low)).toBe(low[3]);
  });

  it.each(BREATH_PATTERNS)('of a minute hold as many breaths as the truth: %s', (pattern) => {
    // In and out follow each other without a break: the pause after them is what parts two breaths.
    for (let seed = 0; seed < 20; seed++) {
      const breathing = breathe(seed, pattern, 70);
      const sounds = breathing.breaths
        .filter(({ at }) => at >= 5 && at < 65)
        .map((breath) => ({ at: breath.at, samples: breathSound(breath, 4_000, seed) }));
      expect(onsets(track(75, 4_000, sounds), 4_000)).toBe(breathsInMinute(breathing, 5));
    }
  });

  it.each(PULSE_PATTERNS)('of a minute hold as many beats as the truth: %s', (pattern) => {
    for (let seed = 0; seed < 50; seed++) {
      const pulse = beat(seed, pattern, 70);
      const sounds = pulse.beats
        .filter(({ at }) => at >= 5 && at < 65)
        .map((each) => ({ at: each.at, samples: beatSound(each, 4_000) }));
      expect(onsets(track(70, 4_000, sounds), 4_000)).toBe(beatsAMinute(pulse, 5));
    }
  });
});
