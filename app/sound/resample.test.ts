import { spawnSync } from 'node:child_process';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Resampler } from './resample.ts';

const tone = (hertz: number, rate: number, seconds: number) =>
  Float32Array.from(
    { length: Math.round(rate * seconds) },
    (_, n) => 0.5 * Math.sin((2 * Math.PI * hertz * n) / rate),
  );

function resample(samples: Float32Array, from: number, piece = samples.length): Float32Array {
  const resampler = new Resampler(from);
  const out: number[] = [];
  for (let at = 0; at < samples.length; at += piece)
    out.push(...resampler.push(samples.subarray(at, at + piece)));
  out.push(...resampler.end());
  return Float32Array.from(out);
}

/** Root mean square in dB relative to a sine of amplitude 0.5, leaving out the edges, where the tone begins and ends. */
function level(samples: Float32Array): number {
  const inner = samples.subarray(800, -800);
  return 10 * Math.log10(inner.reduce((sum, x) => sum + x * x, 0) / inner.length / 0.125);
}

describe('the resampler', () => {
  it.each([8_000, 11_025, 22_050, 24_000, 32_000, 44_100, 48_000, 96_000, 192_000])(
    'keeps tones of the pass band at %i samples a second, in level and in phase',
    (rate) => {
      const nyquist = Math.min(rate, 16_000) / 2;
      for (const hertz of [100, 1000, 0.89 * nyquist]) {
        const out = resample(tone(hertz, rate, 1), rate);
        const wanted = tone(hertz, 16_000, 1);
        expect(out.length).toBe(16_000);
        expect(level(out.map((x, n) => x - wanted[n]!))).toBeLessThan(-70);
      }
    },
  );

  it.each([22_050, 44_100, 48_000, 96_000])(
    'lets nothing above 8 kHz through at %i samples a second: 80 dB down',
    (rate) => {
      for (let hertz = 8_050; hertz < rate / 2; hertz += 977) {
        expect(level(resample(tone(hertz, rate, 1), rate))).toBeLessThan(-78);
      }
    },
  );

  it('adds no image of a narrow-band recording: 80 dB down above 4 kHz', () => {
    // A tone at 3 kHz of an 8 kHz recording has its first image at 5 kHz.
    const out = resample(tone(3000, 8_000, 1), 8_000).map(
      (x, n) => x - 0.5 * Math.sin((2 * Math.PI * 3000 * n) / 16_000),
    );
    expect(level(out)).toBeLessThan(-78);
  });

  it('gives the same samples however the stream is cut', () => {
    const sound = tone(440, 44_100, 0.3);
    const whole = resample(sound, 44_100);
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 5000 }), (piece) => {
        expect(resample(sound, 44_100, piece)).toEqual(whole);
      }),
      { numRuns: 20 },
    );
  });

  it('gives ceil(n · to / from) samples for any rate and length, even none', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 4_000, max: 50_000 }),
        fc.integer({ min: 0, max: 300 }),
        (rate, length) => {
          expect(resample(new Float32Array(length), rate).length).toBe(Math.ceil((length * 16_000) / rate));
        },
      ),
      { numRuns: 10 },
    );
  });

  it("agrees with ffmpeg's resampler on a sweep, sample by sample, to 60 dB below it", () => {
    // The sweep ends at 6 kHz, where both are in their pass bands.
    const rate = 44_100;
    const sweep = Float32Array.from({ length: rate * 2 }, (_, n) => {
      const t = n / rate;
      return 0.5 * Math.sin(2 * Math.PI * (100 * t + ((6000 - 100) / 4) * t * t));
    });
    const args = ['-v', 'error', '-f', 'f32le', '-ar', String(rate), '-ac', '1', '-i', 'pipe:0'];
    const filter = ['-af', 'aresample=16000:filter_size=256:cutoff=0.97', '-f', 'f32le', 'pipe:1'];
    const run = spawnSync('ffmpeg', [...args, ...filter], { input: Buffer.from(sweep.buffer) });
    expect(run.stderr.toString()).toBe('');
    const theirs = new Float32Array(
      run.stdout.buffer.slice(run.stdout.byteOffset, run.stdout.byteOffset + run.stdout.length),
    );
    const ours = resample(sweep, rate);
    expect(Math.abs(theirs.length - ours.length)).toBeLessThanOrEqual(1);
    expect(level(theirs.map((x, n) => x - ours[n]!))).toBeLessThan(-60);
  });
});
