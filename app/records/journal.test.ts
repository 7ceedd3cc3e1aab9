import { appendFile, mkdtemp, readFile, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { RehearsalEvent } from '../marking/events.ts';
import type { Header } from './header.ts';
import { headerLine, parseJournal, readJournal } from './journal.ts';
import { JournalWriter } from './journalWriter.ts';
import { Gap, OtherContent } from '../disk/notKept.ts';

const HEADER: Header = {
  schema: 1,
  skill: 'hand-washing',
  variants: { tap: 'lever' },
  style: 'coach',
  engine: 'moonshine/moonshine-tiny-en',
  startedAt: '2026-01-31T09:30:00.000Z',
};

const time = fc.double({ min: 0, max: 7200, noNaN: true });
const evidence = fc.record({
  utterance: fc.nat(),
  text: fc.string({ unit: 'binary' }),
  start: time,
  end: time,
  score: fc.double({ min: 0, max: 1, noNaN: true }),
});
const anyEvent: fc.Arbitrary<RehearsalEvent> = fc.oneof(
  fc.record({ type: fc.constant('credited' as const), step: fc.string(), evidence }),
  fc.record({ type: fc.constant('joint' as const), joint: fc.string({ unit: 'binary' }) }),
  fc.record({ type: fc.constant('ended' as const), at: time }),
);
/** As JSON keeps it: minus zero does not survive, for one. */
const asKept = (events: readonly RehearsalEvent[]): unknown => JSON.parse(JSON.stringify(events));

const joints = (...names: string[]): RehearsalEvent[] => names.map((joint) => ({ type: 'joint', joint }));

/** Added by somebody who knows nothing of the file yet. */
const appendEvents = (to: string, from: number, events: readonly RehearsalEvent[]): Promise<number> =>
  new JournalWriter(to).add(from, events);

let file = '';
beforeEach(async () => {
  file = path.join(await mkdtemp(path.join(tmpdir(), 'sinkside-journal-')), 'journal.jsonl');
  await writeFile(file, headerLine(HEADER));
});
afterEach(() => rm(path.dirname(file), { recursive: true }));

describe('a journal', () => {
  it('cut off at any byte reads back as the beginning of what was written, and says what is lost', () => {
    fc.assert(
      fc.property(
        fc.array(anyEvent, { maxLength: 8 }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (events, share) => {
          const lines = [headerLine(HEADER), ...events.map((event) => `${JSON.stringify(event)}\n`)];
          const bytes = Buffer.from(lines.join(''));
          const cut = bytes.subarray(0, Math.round(share * bytes.length));
          const read = parseJournal(cut, 'j');
          const whole = cut.toString('latin1').split('\n').length - 1;
          expect(read.kept).toBe(Math.max(0, whole - 1));
          expect(read.events).toEqual((asKept(events) as unknown[]).slice(0, read.kept));
          expect(read.header).toEqual(whole > 0 ? HEADER : null);
          const torn = cut.length > 0 && cut.at(-1) !== 0x0a;
          expect(read.faults.map((fault) => fault.line)).toEqual(torn ? [whole + 1] : []);
        },
      ),
    );
  });

  it('takes events sent twice, in any overlap, once', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(anyEvent, { minLength: 1, maxLength: 6 }),
        fc.array(fc.tuple(fc.nat(6), fc.nat(6))),
        async (events, sends) => {
          await writeFile(file, headerLine(HEADER));
          const writer = new JournalWriter(file);
          let kept = 0;
          for (const [a, b] of sends) {
            const from = Math.min(a, kept);
            const sent = events.slice(from, Math.max(from, b));
            kept = Math.max(kept, from + sent.length);
            expect(await writer.add(from, sent)).toBe(kept);
          }
          expect((await readJournal(file)).events).toEqual((asKept(events) as unknown[]).slice(0, kept));
        },
      ),
      { numRuns: 25 },
    );
  });

  it('refuses events that leave a gap, and says where to begin', async () => {
    await appendEvents(file, 0, joints('knee'));
    await expect(appendEvents(file, 3, joints('ankle'))).rejects.toThrow(
      new Gap('Events 1 to 2 are missing.', 1),
    );
    expect((await readJournal(file)).kept).toBe(1);
  });

  it('refuses other events where it has some, also behind the same ones, and keeps what it has', async () => {
    await appendEvents(file, 0, joints('knee', 'ankle'));
    const before = await readFile(file);
    for (const other of [joints('hip'), joints('knee', 'hip', 'elbow')])
      await expect(appendEvents(file, 0, other)).rejects.toThrow(OtherContent);
    await expect(appendEvents(file, 1, joints('hip'))).rejects.toThrow(
      new OtherContent('From event 1 on other events are kept already.', 2),
    );
    expect(await readFile(file)).toEqual(before);
    expect(await appendEvents(file, 1, joints('ankle', 'hip'))).toBe(3);
  });

  it('that something else has changed is looked at again', async () => {
    const writer = new JournalWriter(file);
    await writer.add(0, joints('knee'));
    await appendFile(file, `${JSON.stringify(joints('ankle')[0])}\n`);
    await expect(writer.add(1, joints('hip'))).rejects.toThrow(OtherContent);
    expect(await writer.add(2, joints('hip'))).toBe(3);
    expect((await readJournal(file)).events).toEqual(joints('knee', 'ankle', 'hip'));
  });

  it('whose last line broke off goes on behind its whole lines', async () => {
    await appendEvents(file, 0, joints('knee', 'ankle'));
    await truncate(file, (await readFile(file)).length - 5);
    expect((await readJournal(file)).faults).toMatchObject([{ line: 3, message: /breaks off/ }]);
    expect(await appendEvents(file, 1, joints('hip'))).toBe(2);
    expect(await readJournal(file)).toMatchObject({ events: joints('knee', 'hip'), faults: [] });
  });

  it.each([
    ['garbage', 'x)9%\n'],
    ['bytes that are no UTF-8', Buffer.from([0x22, 0xff, 0xfe, 0x22, 0x0a])],
    ['zeros', Buffer.from('\0\0\0\0\n')],
    ['JSON that is no event', '{"typ":"joint"}\n'],
    ['an empty line', '\n'],
  ])('with %s in the middle is read around it, which is named', async (_what, line) => {
    await appendEvents(file, 0, joints('knee'));
    await appendFile(file, line);
    // The damaged line has an index of its own, so that a later event is not taken for one already there.
    expect(await appendEvents(file, 2, joints('hip'))).toBe(3);
    const read = await readJournal(file);
    expect(read).toMatchObject({ header: HEADER, events: joints('knee', 'hip'), kept: 3 });
    expect(read.faults).toMatchObject([{ file, line: 3 }]);
  });

  it('of a newer program says so at line 1 and shows its events', async () => {
    await writeFile(
      file,
      `${JSON.stringify({ ...HEADER, schema: 2 })}\n${JSON.stringify(joints('knee')[0])}\n`,
    );
    const read = await readJournal(file);
    expect(read).toMatchObject({ header: null, events: joints('knee') });
    expect(read.faults).toMatchObject([{ line: 1, field: 'schema' }]);
  });
});
