import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CONSENT_TEXT } from '../people/consent.ts';
import type { Trainee } from '../people/trainee.ts';
import type { GoneRecord } from '../disk/goneRecords.ts';
import { UnknownRehearsal } from '../records/kept.ts';
import { OtherWriter } from '../records/writer.ts';
import { ArchiveAway, type Archive } from './archiveClient.ts';
import { QUIET, type Here } from './outbox.ts';
import { sendRound, type Station } from './round.ts';
import { SentLog } from './sentLog.ts';

const KIM: Trainee = {
  id: '0b6f7c52-8f0e-4d8e-9f9c-3f6f2f1c2a10',
  name: 'Kim',
  class: '',
  consent: { agreed: true, text: CONSENT_TEXT, at: '2026-01-01T00:00:00Z', sends: true },
};
const idOf = (n: number): string => `20260202T09300${n}Z-hand-washing`;
const NEVER = new AbortController().signal;

/** A station in memory: records with a content, of which each longer one begins with the one before. */
class MadeStation implements Omit<Station, 'log'> {
  readonly contents = new Map<string, string>();
  readonly live = new Set<string>();
  noted: GoneRecord[] = [];
  at = Date.parse('2026-02-10T12:00:00Z');

  here = async (): Promise<Here[]> =>
    [...this.contents].map(([record, content]) => ({
      record,
      trainee: KIM.id,
      startedAt: '2026-02-02T09:30:00Z',
      isEnded: true,
      changedAt: this.at - QUIET,
      stamp: content,
    }));
  trainees = async (): Promise<Trainee[]> => [KIM];
  packed: Station['packed'] = async (record, work) => {
    const content = this.contents.get(record);
    return content === undefined
      ? null
      : work({ file: `${record} ${content}`, sha256: `hash of ${content}` });
  };
  delete = async (record: string): Promise<void> => {
    if (this.live.has(record)) throw new OtherWriter(record);
    if (!this.contents.delete(record)) throw new UnknownRehearsal(record);
    this.noted.push({ record, at: new Date(this.at).toISOString() });
  };
  gone = async (): Promise<GoneRecord[]> => [...this.noted];
  forgetGone = async (records: ReadonlySet<string>): Promise<void> => {
    this.noted = this.noted.filter(({ record }) => !records.has(record));
  };
  now = (): number => this.at;
}

/** An archive in memory, which can break off before or after it has done what was asked. */
class MadeArchive implements Archive {
  readonly has = new Map<string, string>();
  readonly deleted = new Map<string, 'asked' | 'told'>();
  sends = 0;
  breaks: ('before' | 'after' | 'not')[] = [];

  contact: Archive['contact'] = () =>
    this.do(() => ({
      station: 'Sink 4',
      school: 'School of the Hill',
      deletions: [...this.deleted]
        .filter(([, state]) => state === 'asked')
        .map(([record]) => ({ record, deletedAt: '2026-02-09T00:00:00Z' })),
    }));
  send: Archive['send'] = (file) =>
    this.do(() => {
      this.sends += 1;
      const [record = '', content = ''] = file.split(' ');
      const none = { taken: [], already: [], replaced: [], refused: [] };
      if (this.deleted.has(record)) return { ...none, refused: [{ record, why: 'It was deleted.' }] };
      const before = this.has.get(record);
      this.has.set(record, content);
      if (before === content) return { ...none, already: [record] };
      return before === undefined ? { ...none, taken: [record] } : { ...none, replaced: [record] };
    });
  tellGone: Archive['tellGone'] = (records) =>
    this.do(() => {
      for (const { record } of records) {
        this.has.delete(record);
        this.deleted.set(record, 'told');
      }
    });
  /** As somebody who manages the archive does. */
  remove(record: string): void {
    if (this.has.delete(record)) this.deleted.set(record, 'asked');
  }

  private async do<T>(work: () => T): Promise<T> {
    const breaks = this.breaks.shift() ?? 'not';
    if (breaks === 'before') throw new ArchiveAway('gone');
    const answer = work();
    if (breaks === 'after') throw new ArchiveAway('gone');
    return answer;
  }
}

const record = fc.integer({ min: 0, max: 4 }).map(idOf);
const action = fc.oneof(
  fc.record({ do: fc.constant('grow' as const), record }),
  fc.record({ do: fc.constant('delete here' as const), record }),
  fc.record({ do: fc.constant('delete there' as const), record }),
  fc.record({ do: fc.constant('lose the log' as const) }),
  fc.record({
    do: fc.constant('round' as const),
    breaks: fc.array(fc.constantFrom('before' as const, 'after' as const, 'not' as const), { maxLength: 6 }),
  }),
);

describe('rounds of sending', () => {
  it('leave the same at both ends, whatever breaks off, is lost or deleted in between', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(action, { maxLength: 20 }), async (actions) => {
        const data = await mkdtemp(path.join(tmpdir(), 'sinkside-round-'));
        const station = new MadeStation();
        const archive = new MadeArchive();
        const everDeleted = new Set<string>();
        const round = async (): Promise<void> => {
          const log = await SentLog.open(data);
          await sendRound({ ...station, log }, archive, NEVER);
        };
        for (const each of actions) {
          if (each.do === 'grow' && !everDeleted.has(each.record))
            station.contents.set(each.record, `${station.contents.get(each.record) ?? ''}x`);
          if (each.do === 'delete here' && station.contents.has(each.record)) {
            await station.delete(each.record);
            everDeleted.add(each.record);
          }
          if (each.do === 'delete there' && archive.has.has(each.record)) {
            archive.remove(each.record);
            everDeleted.add(each.record);
          }
          if (each.do === 'lose the log') await SentLog.remove(data);
          if (each.do === 'round') {
            archive.breaks = [...each.breaks];
            await round().catch((error: unknown) => expect(error).toBeInstanceOf(ArchiveAway));
          }
        }
        archive.breaks = [];
        await round();
        expect(archive.has).toEqual(station.contents);
        expect([...archive.deleted.values()]).not.toContain('asked');
        expect(station.noted).toEqual([]);
        const { sends } = archive;
        await round();
        expect(archive.sends).toBe(sends);
        await rm(data, { recursive: true });
      }),
      { numRuns: 60 },
    );
  });

  it('tell what the archive refuses once, and send it again only when it has changed', async () => {
    const data = await mkdtemp(path.join(tmpdir(), 'sinkside-round-'));
    const station = new MadeStation();
    const archive = new MadeArchive();
    station.contents.set(idOf(1), 'x');
    archive.deleted.set(idOf(1), 'told');
    const log = await SentLog.open(data);
    for (let n = 0; n < 3; n++) expect((await sendRound({ ...station, log }, archive, NEVER)).sent).toBe(0);
    expect(archive.sends).toBe(1);
    expect(log.of(idOf(1))).toMatchObject({ refused: 'It was deleted.' });
    station.contents.set(idOf(1), 'xx');
    await sendRound({ ...station, log }, archive, NEVER);
    expect(archive.sends).toBe(2);
    await rm(data, { recursive: true });
  });

  it('delete later what is being rehearsed while the archive wants it deleted', async () => {
    const data = await mkdtemp(path.join(tmpdir(), 'sinkside-round-'));
    const station = new MadeStation();
    const archive = new MadeArchive();
    station.contents.set(idOf(1), 'x');
    const log = await SentLog.open(data);
    await sendRound({ ...station, log }, archive, NEVER);
    archive.remove(idOf(1));
    station.live.add(idOf(1));
    await sendRound({ ...station, log }, archive, NEVER);
    expect(archive.deleted.get(idOf(1))).toBe('asked');
    expect(station.contents.has(idOf(1))).toBe(true);
    station.live.clear();
    await sendRound({ ...station, log }, archive, NEVER);
    expect(archive.deleted.get(idOf(1))).toBe('told');
    expect(station.contents.size).toBe(0);
    await rm(data, { recursive: true });
  });

  it('say when the next record will be due', async () => {
    const data = await mkdtemp(path.join(tmpdir(), 'sinkside-round-'));
    const station = new MadeStation();
    station.contents.set(idOf(1), 'x');
    const here = station.here;
    station.here = async () => (await here()).map((each) => ({ ...each, changedAt: station.at }));
    const log = await SentLog.open(data);
    const round = await sendRound({ ...station, log }, new MadeArchive(), NEVER);
    expect(round).toEqual({ sent: 0, nextDue: station.at + QUIET });
    await rm(data, { recursive: true });
  });
});
