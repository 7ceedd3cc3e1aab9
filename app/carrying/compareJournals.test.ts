import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { RehearsalEvent, ReviewEvent } from '../marking/events.ts';
import { reviewOf } from '../review/review.ts';
import { reviewEvents } from '../review/arbitraryReview.ts';
import { parseJournal } from '../records/journal.ts';
import { compareJournals } from './compareJournals.ts';

const HEADER =
  '{"schema":1,"skill":"hand-washing","variants":{},"style":"coach","engine":"test","startedAt":"2026-01-31T09:30:00.250Z"}\n';
const REHEARSED: RehearsalEvent[] = [
  { type: 'began', skill: 'hand-washing', variants: {} },
  { type: 'ended', at: 3 },
];
const journal = (events: readonly RehearsalEvent[], header = HEADER): Buffer =>
  Buffer.from(header + events.map((event) => `${JSON.stringify(event)}\n`).join(''));
const eventsIn = (bytes: Uint8Array): readonly RehearsalEvent[] => parseJournal(bytes, '').events;

const verdict = (verdict: 'yes' | 'no', madeAt: string, by = 'R. Ortega'): ReviewEvent => ({
  type: 'reviewed', by, madeAt, skill: 0, step: 'scrub', verdict, reason: '', heardAt: null, blind: false,
}); // prettier-ignore
const signed = (madeAt: string, by = 'R. Ortega'): ReviewEvent => ({
  type: 'signed off',
  by,
  madeAt,
  skill: 0,
});

/** What ours is after taking theirs in. */
function after(ours: Buffer, theirs: Buffer): Buffer {
  const comparison = compareJournals(ours, theirs);
  return 'journal' in comparison ? comparison.journal : ours;
}

const reviews = reviewEvents(['scrub', 'greet']);

describe('a journal from elsewhere', () => {
  it('is the same where it has nothing that ours lacks', () => {
    const ours = journal([...REHEARSED, verdict('yes', '2026-02-01T08:00:00Z')]);
    expect(compareJournals(ours, ours).is).toBe('same');
    expect(compareJournals(ours, journal(REHEARSED)).is).toBe('same');
  });

  it('is longer where ours is its beginning, and what breaks off counts for neither', () => {
    const [ours, theirs] = [journal(REHEARSED.slice(0, 1)), journal(REHEARSED)];
    const longer = { is: 'longer', journal: theirs, isOnlyReviewed: false };
    expect(compareJournals(ours, theirs)).toEqual(longer);
    expect(compareJournals(Buffer.concat([ours, Buffer.from('{"ty')]), theirs)).toEqual(longer);
    expect(compareJournals(ours, Buffer.concat([theirs, Buffer.from('{"ty')]))).toEqual(longer);
    const reviewed = journal([...REHEARSED, verdict('yes', '2026-02-01T08:00:00Z')]);
    expect(compareJournals(theirs, reviewed)).toMatchObject({ is: 'longer', isOnlyReviewed: true });
  });

  it('is another one where the two were rehearsed on differently, or are of different rehearsals', () => {
    const [ours, theirs] = [{ type: 'ended', at: 3 }, { type: 'ended', at: 4 }] as const;
    expect(compareJournals(journal([ours]), journal([theirs])).is).toBe('other');
    expect(compareJournals(journal([ours]), journal([theirs, verdict('no', '2026-02-01T08:00:00Z')])).is).toBe('other');
    expect(compareJournals(journal([ours]), journal([ours], HEADER.replace('.250Z', '.251Z'))).is).toBe('other');
    expect(compareJournals(Buffer.alloc(0), journal([ours])).is).toBe('other');
  }); // prettier-ignore

  it('that was reviewed as ours was gets the reviews of both, of which the last verdict counts, and no signature', () => {
    const ours = journal([...REHEARSED, verdict('yes', '2026-02-02T08:00:00Z'), signed('2026-02-02T08:01:00Z')]);
    const theirs = journal([...REHEARSED, verdict('no', '2026-02-01T09:00:00Z', 'M. Field'), signed('2026-02-03T08:00:00Z', 'M. Field')]);
    const both = reviewOf(eventsIn(after(ours, theirs)));
    expect(both.verdicts.get('scrub')).toMatchObject({ verdict: 'yes', by: 'R. Ortega' });
    expect(both.signedOff).toBeNull();
    expect(eventsIn(after(ours, theirs))).toHaveLength(6);
  }); // prettier-ignore

  it('comes to the same on both sides, changes nothing the second time, and loses no event', () => {
    const some = fc.array(reviews, { maxLength: 5 });
    fc.assert(
      fc.property(some, some, some, (common, a, b) => {
        const [ours, theirs] = [
          journal([...REHEARSED, ...common, ...a]),
          journal([...REHEARSED, ...common, ...b]),
        ];
        const both = after(ours, theirs);
        expect(compareJournals(both, theirs).is).toBe('same');
        expect(compareJournals(both, ours).is).toBe('same');
        for (const event of [...common, ...a, ...b]) expect(eventsIn(both)).toContainEqual(event);
        const elsewhere = after(theirs, both);
        expect(new Set(eventsIn(elsewhere).map((e) => JSON.stringify(e)))).toEqual(
          new Set(eventsIn(both).map((e) => JSON.stringify(e))),
        );
        if (
          compareJournals(ours, theirs).is === 'reviewed' &&
          compareJournals(theirs, ours).is === 'reviewed'
        )
          expect(after(theirs, ours).equals(both)).toBe(true);
      }),
    );
  });
});
