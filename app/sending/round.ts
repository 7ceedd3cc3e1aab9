import { UnknownRehearsal } from '../records/kept.ts';
import { OtherWriter } from '../records/writer.ts';
import type { Gone, Taken } from '../archive/serving/api.ts';
import type { Trainee } from '../people/trainee.ts';
import type { GoneRecord } from '../disk/goneRecords.ts';
import { ArchiveRefused, type Archive } from './archiveClient.ts';
import { outboxOf, settledAt, type Here } from './outbox.ts';
import type { SentLog } from './sentLog.ts';

/** A record as a file that can be sent. */
export interface Packed {
  readonly file: string;
  /** SHA-256 of the attempt. */
  readonly sha256: string;
}

/** A record cannot be sent as it is; the message says why. */
export class CannotPack extends Error {
  override readonly name = 'CannotPack';
}

/** What a round needs of the station; passed in, so that tests and simulated stations can stand in for it. */
export interface Station {
  readonly log: SentLog;
  here(): Promise<Here[]>;
  trainees(): Promise<readonly Trainee[]>;
  /** Makes the file of a record, and takes it away when `work` is done with it. Null where the record is gone. Throws {@link CannotPack}. */
  packed<T>(record: string, work: (packed: Packed) => Promise<T>): Promise<T | null>;
  /** Deletes a record. Throws {@link UnknownRehearsal} and {@link OtherWriter}. */
  delete(record: string): Promise<void>;
  /** What was deleted and not told yet. */
  gone(): Promise<GoneRecord[]>;
  forgetGone(records: ReadonlySet<string>): Promise<void>;
  /** Ms since 1970. */
  now(): number;
}

/** What a round has done. */
export interface Round {
  readonly sent: number;
  /** When the next record will be due, ms since 1970; null for none. */
  readonly nextDue: number | null;
}

/** Records told of at once. */
const TOLD_AT_ONCE = 500;

/**
 * Asks the archive what it wants deleted and does so, tells it what was deleted here, then sends what is due, one record after the
 * other. Broken off anywhere and done again, it leaves the same at both ends. Throws as {@link Archive}'s functions do.
 */
export async function sendRound(station: Station, archive: Archive, signal: AbortSignal): Promise<Round> {
  const { deletions } = await archive.contact();
  const asked = await deleteAsked(
    station,
    deletions.map(({ record }) => record),
  );
  await tellGone(station, archive, asked);
  const outbox = outboxOf(
    await station.here(),
    await station.trainees(),
    (record) => station.log.of(record),
    station.now(),
  );
  let sent = 0;
  for (const each of outbox.due) {
    signal.throwIfAborted();
    if (await sendOne(station, archive, each)) sent += 1;
  }
  const due = outbox.settling.map(settledAt);
  return { sent, nextDue: due.length === 0 ? null : Math.min(...due) };
}

/** Deletes what the archive wants deleted. Gives what is gone; what is being rehearsed just now is asked for again. */
async function deleteAsked(station: Station, records: readonly string[]): Promise<GoneRecord[]> {
  const gone: GoneRecord[] = [];
  for (const record of records) {
    try {
      await station.delete(record);
    } catch (error) {
      if (error instanceof OtherWriter) continue;
      if (!(error instanceof UnknownRehearsal)) throw error;
    }
    gone.push({ record, at: new Date(station.now()).toISOString() });
  }
  return gone;
}

/** Tells what is gone, as far as the archive may have it. */
async function tellGone(station: Station, archive: Archive, asked: readonly GoneRecord[]): Promise<void> {
  const noted = await station.gone();
  const here = new Set(noted.length === 0 ? [] : (await station.here()).map(({ record }) => record));
  const { log } = station;
  const isTold = ({ record }: GoneRecord): boolean =>
    !here.has(record) && (log.isNew || log.of(record) !== undefined);
  const records = new Map([...asked, ...noted.filter(isTold)].map((gone) => [gone.record, gone]));
  const all: Gone['records'] = [...records.values()];
  for (let from = 0; from < all.length; from += TOLD_AT_ONCE)
    await archive.tellGone(all.slice(from, from + TOLD_AT_ONCE));
  for (const { record } of all) await log.forget(record);
  await station.forgetGone(new Set(noted.map(({ record }) => record).filter((record) => !here.has(record))));
}

/** Sends a record, unless the archive has it as it is. Tells whether it was sent. */
async function sendOne(station: Station, archive: Archive, { record, stamp }: Here): Promise<boolean> {
  const { log } = station;
  const note = async (sha256: string, refused: string | null): Promise<boolean> => {
    const entry = { record, sha256, stamp, at: new Date(station.now()).toISOString() };
    await log.note(refused === null ? entry : { ...entry, refused });
    return refused === null;
  };
  const sent = station.packed(record, async ({ file, sha256 }) => {
    const known = log.of(record);
    if (known?.sha256 !== sha256) return note(sha256, await refusalOf(record, () => archive.send(file)));
    await log.note({ ...known, stamp });
    return false;
  });
  const done = await sent.catch((error: unknown) => {
    if (error instanceof CannotPack) return note('', `It was not sent: ${error.message}.`);
    throw error;
  });
  return done === true;
}

/** Why the archive does not take a record; null where it does. */
async function refusalOf(record: string, send: () => Promise<Taken>): Promise<string | null> {
  try {
    const { taken, already, replaced, refused } = await send();
    const refusal = refused.find((each) => each.record === record);
    if (refusal) return refusal.why;
    const has = [...taken, ...already, ...replaced].includes(record);
    return has ? null : 'The archive did not say what it did with it.';
  } catch (error) {
    if (error instanceof ArchiveRefused) return error.message;
    throw error;
  }
}
