import fc from 'fast-check';
import { expect, it } from 'vitest';
import { SAMPLE_RATE } from './sampleRate.ts';
import { SoundBuffer } from './soundBuffer.ts';

it('holds what was appended until it is dropped, at the same times', () => {
  fc.assert(
    fc.property(
      fc.array(fc.tuple(fc.integer({ min: 0, max: 9000 }), fc.nat(60_000)), { maxLength: 30 }),
      (steps) => {
        const buffer = new SoundBuffer();
        let length = 0;
        let dropped = 0;
        for (const [count, drop] of steps) {
          buffer.append(Float32Array.from({ length: count }, (_, i) => length + i));
          length += count;
          buffer.dropBefore(drop / SAMPLE_RATE);
          dropped = Math.min(length, Math.max(dropped, drop));
          const held = buffer.slice(0, Infinity);
          expect(held.length).toBe(length - dropped);
          expect(held[0] ?? dropped).toBe(dropped);
          expect(held.at(-1) ?? length - 1).toBe(length - 1);
        }
      },
    ),
  );
});
