import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ReviewEvent } from '../../marking/events.ts';
import { joined, partJournal, wholeOf, type JournalText } from './journalText.ts';

const machine = fc.array(
  fc.string({ unit: 'binary' }).map((joint) => `${JSON.stringify({ type: 'joint', joint })}\n`),
  { maxLength: 6 },
);
const said = fc
  .record({ minute: fc.integer({ min: 0, max: 59 }), text: fc.stringMatching(/^[a-z]{1,5}$/) })
  .map(({ minute, text }): string => {
    const madeAt = `2026-11-30T09:${String(minute).padStart(2, '0')}:00.000Z`;
    const event: ReviewEvent = { type: 'commented', by: 'R. Ortega', madeAt, at: minute, text };
    return `${JSON.stringify(event)}\n`;
  });
const says = fc.array(said, { maxLength: 5 });
const linesOf = (text: string): string[] => text.match(/[^\n]*\n/g) ?? [];
const part = (events: readonly string[], review: readonly string[]): JournalText => ({
  events: events.join(''),
  review: review.join(''),
});

describe('a journal', () => {
  it('is parted into what the machine and what persons said, however they stand, and nothing is lost but a broken last line', () => {
    fc.assert(
      fc.property(machine, says, fc.stringMatching(/^[a-z]*$/), (events, review, broken) => {
        // Persons' lines between the machine's.
        const mixed = [...events.slice(0, 2), ...review, ...events.slice(2)].join('');
        const parted = partJournal(Buffer.from(mixed + broken));
        expect(parted).toEqual(part(events, review));
        expect(wholeOf(parted)).toBe(events.join('') + review.join(''));
      }),
    );
  });

  it('takes nothing that a database cannot hold', () => {
    expect(partJournal(Buffer.from('{"a":\0}\n')).events).toBe('{"a":\ufffd}\n');
    expect(partJournal(Buffer.from([0xff, 0xfe, 0x0a])).events).toBe('\ufffd\ufffd\n');
  });

  it('joined with its beginning is itself, whichever came first', () => {
    fc.assert(
      fc.property(machine, says, fc.nat(6), fc.nat(5), (events, review, shorter, fewer) => {
        const whole = part(events, review);
        const beginning = part(events.slice(0, shorter), review.slice(0, fewer));
        expect(joined(beginning, whole)).toEqual(whole);
        expect(joined(whole, beginning)).toEqual(whole);
      }),
    );
  });

  it('joined with one that was reviewed elsewhere has all that persons said, once and in order of when, and joining again adds nothing', () => {
    fc.assert(
      fc.property(machine, says, says, (events, here, there) => {
        const both = joined(part(events, here), part(events, there));
        const lines = linesOf(both?.review ?? '');
        expect(new Set(lines)).toEqual(new Set([...here, ...there]));
        expect(both && joined(both, part(events, there))).toEqual(both);
        expect(both && joined(both, part(events, here))).toEqual(both);
      }),
    );
  });

  it('is not joined with that of another rehearsal', () => {
    expect(joined(part(['a\n', 'b\n'], []), part(['a\n', 'c\n'], []))).toBeNull();
  });
});
