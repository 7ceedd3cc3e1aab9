import { appendFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import fc from 'fast-check';
import { beforeAll, expect, it } from 'vitest';
import { openLibrary, type Library } from '../../app/library/library.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { Rehearsals } from '../../app/records/rehearsals.ts';

/**
 * What a power cut leaves behind what was answered as kept: a part of what was being written, zeros (the file has grown, its content has
 * not come), or one after the other. What was answered was flushed before.
 */

let library: Library;
beforeAll(async () => {
  library = await openLibrary();
});

const event = (n: number): RehearsalEvent => ({ type: 'resumed', at: n });
const events = (count: number): RehearsalEvent[] => Array.from({ length: count }, (_, n) => event(n));
const soundOf = (from: number, to: number): Buffer =>
  Buffer.from(Int16Array.from({ length: to - from }, (_, n) => 1 + ((from + n) % 30_000)).buffer);
const BEGUN = { skill: 'hand-washing', variants: {}, style: 'coach', engine: 'test', startedAt: '2026-01-31T09:30:00Z' } as const; // prettier-ignore

it('a power cut loses nothing that was answered as kept, and the rehearsal goes on', async () => {
  const cut = fc.record({
    kept: fc.integer({ min: 0, max: 5 }),
    /** Of the line, and of the sound, that were being written: so much came to the disk. */
    line: fc.double({ min: 0, max: 0.99, noNaN: true }),
    samples: fc.integer({ min: 0, max: 999 }),
    zeros: fc.integer({ min: 0, max: 5000 }),
  });
  await fc.assert(
    fc.asyncProperty(cut, async ({ kept, line, samples, zeros }) => {
      const data = mkdtempSync(path.join(tmpdir(), 'sinkside-cut-'));
      const before = new Rehearsals(data, library);
      const { id, writer } = await before.create(BEGUN);
      await before.addEvents(id, 0, events(kept), writer);
      await before.addSound(id, 0, soundOf(0, 1000), writer);
      const file = (name: string): string => path.join(data, 'rehearsals', id, name);
      const next = Buffer.from(JSON.stringify(event(kept)));
      const tail = [next.subarray(0, Math.floor(line * next.length)), Buffer.alloc(zeros)];
      appendFileSync(file('journal.jsonl'), Buffer.concat(tail));
      const heard = soundOf(1000, 2000).subarray(0, 2 * samples + 1);
      appendFileSync(file('sound.wav'), Buffer.concat([heard, Buffer.alloc(zeros)]));

      const after = new Rehearsals(data, library);
      expect(await after.list()).toMatchObject([{ id, state: 'interrupted' }]);
      const found = await after.read(id);
      expect(found).toMatchObject({ events: events(kept), kept });
      expect(found.faults.length).toBe(tail.some(({ length }) => length > 0) ? 1 : 0);
      const there = await after.sound(id);
      for await (const piece of there.read(0, 2000))
        expect(Buffer.from(piece).equals(soundOf(0, 1000))).toBe(true);
      expect(found.samples).toBeGreaterThanOrEqual(1000);

      // Gone on with from what is there; sound that never came is silence.
      const own = await after.takeOver(id);
      await after.addEvents(id, kept, [event(kept), { type: 'ended', at: 9 }], own);
      await after.addSound(id, found.samples, soundOf(0, 10), own);
      expect(await after.read(id)).toMatchObject({
        events: [...events(kept + 1), { type: 'ended', at: 9 }],
        faults: [],
        samples: found.samples + 10,
      });
      await after.close();
      rmSync(data, { recursive: true });
    }),
    { numRuns: 10 },
  );
});
