import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { FRAME_SECONDS } from './silero.ts';
import { SpeechDetector, type Detection, type Segment } from './speechDetector.ts';

/** Detections for runs of frames, each of so many seconds at one probability. */
function detect(...runs: readonly (readonly [seconds: number, probability: number])[]): Detection[] {
  const detector = new SpeechDetector();
  const frames = runs.flatMap(([seconds, p]) =>
    new Array<number>(Math.round(seconds / FRAME_SECONDS)).fill(p),
  );
  return [...frames.flatMap((p) => detector.push(p)), ...detector.flush()];
}

const segmentsOf = (found: readonly Detection[]): Segment[] =>
  found.flatMap((d) => (d.type === 'segment' ? [d.segment] : []));

describe('SpeechDetector', () => {
  it('finds a stretch of speech with its onset, end and padding', () => {
    const found = detect([1, 0.01], [2, 0.95], [1, 0.01]);
    expect(found.map((d) => d.type)).toEqual(['onset', 'segment']);
    const [segment] = segmentsOf(found);
    expect(Math.abs(segment!.start - 1)).toBeLessThan(0.06);
    expect(Math.abs(segment!.end - 3)).toBeLessThan(0.06);
    expect(segment!.from).toBeLessThan(segment!.start - 0.2);
    expect(segment!.to).toBeGreaterThan(segment!.end + 0.2);
    expect(segment!.pauses).toEqual([]);
  });

  it('takes no click, silence or murmur for speech', () => {
    expect(detect([1, 0], [0.1, 0.99], [1, 0])).toEqual([]);
    expect(detect([5, 0.34])).toEqual([]);
    expect(detect([5, 0.49])).toEqual([]);
    expect(detect()).toEqual([]);
  });

  it('bridges a short pause, and says where it was', () => {
    const [segment, ...more] = segmentsOf(detect([1, 0.9], [0.3, 0.05], [1, 0.9], [1, 0]));
    expect(more).toEqual([]);
    expect(segment!.pauses).toHaveLength(1);
    expect(Math.abs(segment!.pauses[0]!.start - 1)).toBeLessThan(0.04);
    expect(Math.abs(segment!.pauses[0]!.end - 1.3)).toBeLessThan(0.04);
  });

  it('parts at a long pause, and shares no sound between the parts', () => {
    const [first, second, ...more] = segmentsOf(detect([1, 0.9], [0.45, 0.05], [1, 0.9], [1, 0]));
    expect(more).toEqual([]);
    expect(second!.from).toBeGreaterThanOrEqual(first!.to);
  });

  it('goes on while doubtful, and does not begin so', () => {
    const [segment, ...more] = segmentsOf(detect([1, 0.45], [1, 0.9], [1, 0.45], [1, 0.9], [1, 0]));
    expect(more).toEqual([]);
    expect(segment!.start).toBeGreaterThan(0.9);
    expect(segmentsOf(detect([1, 0.9], [0.3, 0.4], [1, 0.9], [1, 0]))).toHaveLength(1);
  });

  it('cuts endless talk at its quietest late frame', () => {
    const [first, second] = segmentsOf(detect([12, 0.9], [0.1, 0.4], [12, 0.9], [1, 0]));
    expect(Math.abs(first!.to - 12.05)).toBeLessThan(0.1);
    expect(second!.from).toBe(first!.to);
  });

  it('foretells the segment that it then closes, once its sound is there', () => {
    const probabilities = fc.array(fc.constantFrom(0, 0.2, 0.4, 0.6, 0.9), { minLength: 1, maxLength: 40 });
    fc.assert(
      fc.property(probabilities, (spoken) => {
        const detector = new SpeechDetector();
        for (const p of spoken.flatMap((p) => [p, p, p])) detector.push(p);
        const foretold: (Segment | null)[] = [];
        for (let frame = 0; frame < 20; frame++) {
          const [closed] = segmentsOf(detector.push(0));
          if (closed && foretold.at(-1)) expect(foretold.at(-1)).toEqual(closed);
          foretold.push(detector.ending);
        }
        // What is over is foretold no more.
        expect(foretold.at(-1)).toBeNull();
      }),
    );
    const detector = new SpeechDetector();
    for (let frame = 0; frame < 40; frame++) detector.push(frame < 30 ? 0.9 : 0);
    expect(detector.ending).not.toBeNull();
    expect(detector.silence).toBeCloseTo(10 * FRAME_SECONDS);
  });

  it('sends what is pending when the sound is over', () => {
    expect(segmentsOf(detect([1, 0], [1, 0.9]))).toHaveLength(1);
  });

  it('answers segments in order, within what it heard, for any probabilities', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(fc.double({ min: 0.03, max: 9, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true })),
          {
            maxLength: 20,
          },
        ),
        (runs) => {
          const heard =
            runs.reduce((sum, [seconds]) => sum + Math.round(seconds / FRAME_SECONDS), 0) * FRAME_SECONDS;
          let last = 0;
          for (const { start, end, from, to, pauses } of segmentsOf(detect(...runs))) {
            expect(from).toBeGreaterThanOrEqual(last);
            expect(start).toBeGreaterThanOrEqual(from - 0.02);
            expect(end).toBeGreaterThanOrEqual(start);
            expect(to).toBeGreaterThanOrEqual(end - 1e-9);
            expect(to).toBeLessThanOrEqual(heard + 1e-9);
            expect(to - from).toBeLessThan(16);
            for (const pause of pauses) expect(pause.end).toBeGreaterThan(pause.start);
            last = to;
          }
        },
      ),
    );
  });
});
