import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { wavHeader } from '../../../app/records/soundTrack.ts';
import { outlineOf, PEAK_RATE, PeakMeter, peaksOfWav } from './peaks.ts';

const wavOf = (samples: readonly number[]): Uint8Array => {
  const data = Buffer.from(Int16Array.from(samples).buffer);
  return Buffer.concat([wavHeader(data.length), data]);
};
async function* cut(bytes: Uint8Array, places: readonly number[]): AsyncGenerator<Uint8Array> {
  const ends = [...places.map((place) => place % (bytes.length + 1)), bytes.length].sort((a, b) => a - b);
  for (const [i, end] of ends.entries()) yield bytes.subarray(ends[i - 1] ?? 0, end);
  await Promise.resolve();
}

describe('the outline of a recording', () => {
  it('is the highest swing of each fiftieth of a second', async () => {
    const second = Array.from({ length: 16_000 }, (_, i) => (i === 8000 ? -16_384 : 0));
    const peaks = await peaksOfWav(cut(wavOf(second), []));
    expect(peaks?.seconds).toBe(1);
    expect(peaks?.heights).toHaveLength(PEAK_RATE);
    expect(peaks?.heights.flatMap((height, i) => (height > 0 ? [[i, height]] : []))).toEqual([[25, 0.5]]);
    expect(outlineOf(peaks!, 2)).toEqual([0, 0.5]); // Of a whole file it is never null.
  });

  it('is the same however the file comes in pieces, as if held as a whole', async () => {
    const samples = fc.array(fc.integer({ min: -32_768, max: 32_767 }), { maxLength: 2000 });
    await fc.assert(
      fc.asyncProperty(samples, fc.array(fc.nat()), async (made, places) => {
        const meter = new PeakMeter(16_000);
        for (const sample of made) meter.add(sample / 32_768);
        expect(await peaksOfWav(cut(wavOf(made), places))).toEqual(meter.peaks);
      }),
    );
  });

  it('keeps the highest, in however few points it is drawn, and may be drawn wider than it is', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { maxLength: 300 }),
        fc.integer({ min: 1, max: 500 }),
        (heights, parts) => {
          const outline = outlineOf({ seconds: heights.length / PEAK_RATE, heights }, parts);
          expect(outline).toHaveLength(parts);
          expect(Math.max(0, ...outline)).toBe(Math.max(0, ...heights));
        },
      ),
    );
  });

  it('is none of a file that is cut off in its header', async () => {
    expect(await peaksOfWav(cut(wavOf([]).subarray(0, 30), []))).toBeNull();
  });
});
