import { describe, expect, it } from 'vitest';
import { CONSENT_TEXT } from '../people/consent.ts';
import type { Trainee } from '../people/trainee.ts';
import { outboxOf, QUIET, settledAt, type Here } from './outbox.ts';
import type { SentEntry } from './sentLog.ts';

const KIM = '0b6f7c52-8f0e-4d8e-9f9c-3f6f2f1c2a10';
const DAY = 24 * 60 * 60_000;
const NOW = Date.parse('2026-02-10T12:00:00Z');
const kim = (consent: Partial<NonNullable<Trainee['consent']>>): Trainee => ({
  id: KIM,
  name: 'Kim',
  class: 'Spring',
  consent: { agreed: true, text: CONSENT_TEXT, at: '2026-02-01T00:00:00Z', sends: true, ...consent },
});
const here = (more: Partial<Here> = {}): Here => ({
  record: '20260202T093000Z-hand-washing',
  trainee: KIM,
  startedAt: '2026-02-02T09:30:00Z',
  isEnded: true,
  changedAt: NOW - DAY,
  stamp: 'as it is',
  ...more,
});
const nothing = (): undefined => undefined;
const outbox = (each: Here, trainee = kim({}), sent: (record: string) => SentEntry | undefined = nothing) =>
  outboxOf([each], [trainee], sent, NOW);

describe('what is to be sent', () => {
  it('is what who rehearsed agreed to, from then on', () => {
    expect(outbox(here()).due).toHaveLength(1);
    const staying = [
      outbox(here({ startedAt: '2026-01-31T09:30:00Z' })),
      outbox(here({ trainee: null })),
      outbox(here({ trainee: 'unknown' })),
      outbox(here(), kim({ agreed: false })),
      outbox(here(), kim({ sends: false })),
      outbox(here(), { ...kim({}), consent: null }),
      outbox(here(), kim({ text: CONSENT_TEXT + 1 })),
    ];
    for (const each of staying) expect(each).toMatchObject({ due: [], settling: [], staying: 1 });
  });

  it('is due when it was left alone for a while, one that was broken off after a day', () => {
    const at = (changedAt: number, isEnded = true) => outbox(here({ changedAt, isEnded }));
    expect(at(NOW - QUIET).due).toHaveLength(1);
    expect(at(NOW - QUIET + 1)).toMatchObject({ due: [], settling: [{}] });
    expect(at(NOW - DAY + 1, false)).toMatchObject({ due: [], settling: [{}] });
    expect(at(NOW - DAY, false).due).toHaveLength(1);
    expect(settledAt(here({ changedAt: 5 }))).toBe(5 + QUIET);
  });

  it('is nothing that the archive has, or has refused, as it is', () => {
    const entry: SentEntry = {
      record: here().record,
      sha256: 'a',
      stamp: 'as it is',
      at: '2026-02-03T00:00:00Z',
    };
    expect(outbox(here(), kim({}), () => entry)).toMatchObject({ due: [], refused: [], staying: 0 });
    expect(outbox(here(), kim({}), () => ({ ...entry, refused: 'too large' }))).toMatchObject({
      due: [],
      refused: [{ refused: 'too large' }],
    });
    for (const refused of [{}, { refused: 'too large' }])
      expect(outbox(here(), kim({}), () => ({ ...entry, ...refused, stamp: 'before' })).due).toHaveLength(1);
  });

  it('goes in the order in which it was begun', () => {
    const two = [here({ record: 'b', startedAt: '2026-02-04T00:00:00Z' }), here({ record: 'a' })];
    expect(outboxOf(two, [kim({})], nothing, NOW).due.map(({ record }) => record)).toEqual(['a', 'b']);
  });
});
