import { randomUUID } from 'node:crypto';
import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { writeBundle } from '../../../app/bundle/write.ts';
import type { Parts } from '../../../app/archive/parts/parts.ts';
import { hashOf as hashOfSecret, newSecret } from '../../../app/archive/serving/secrets.ts';
import type { Archive as Store } from '../../../app/archive/store/connection.ts';
import { archiveAt, ArchiveAway, type Archive } from '../../../app/sending/archiveClient.ts';
import { sendRound } from '../../../app/sending/round.ts';
import { SentLog } from '../../../app/sending/sentLog.ts';
import { carried, hashOf, madeAttempts, madeStation, uuidOf, type MadeAttempt } from './madeStation.ts';
import type { Rehearsed } from './rehearsed.ts';

/** A station of the simulation. */
export interface Simulated {
  readonly id: string;
  readonly key: string;
  readonly attempts: readonly MadeAttempt[];
}

/** How many of them, and of what. */
export interface Size {
  readonly schools: number;
  readonly stations: number;
  readonly attempts: number;
  /** One attempt in so many has sound. */
  readonly soundEach: number;
}

/** What a simulation counts. */
export interface Counts {
  /** Times that something was sent, and of those how often the answer came. */
  sends: number;
  answers: number;
  /** Rounds that broke off, and were begun anew. */
  brokenOff: number;
  /** Answers by what they said of the record. */
  readonly said: Record<'taken' | 'already' | 'replaced' | 'refused', number>;
  /** Seconds that each answer took. */
  readonly seconds: number[];
}

export const newCounts = (): Counts => ({
  sends: 0,
  answers: 0,
  brokenOff: 0,
  said: { taken: 0, already: 0, replaced: 0, refused: 0 },
  seconds: [],
});

/** Enters schools and stations into an archive, as enrolling does, and makes their rehearsals. */
export async function enter(
  store: Store,
  { schools, stations, attempts, soundEach }: Size,
  played: readonly Rehearsed[],
  sounds: readonly Buffer[],
): Promise<Simulated[]> {
  const made = Array.from({ length: stations }, (_, n): Simulated => {
    // The rest goes to the first stations, one each.
    const count = Math.floor(attempts / stations) + (n < attempts % stations ? 1 : 0);
    return {
      id: uuidOf('station', n),
      key: newSecret(),
      attempts: madeAttempts(n, count, played, sounds, soundEach),
    };
  });
  await store.as({ role: 'keeper' }, async (db) => {
    for (let n = 0; n < schools; n++)
      await db
        .insertInto('schools')
        .values({ id: uuidOf('school', n), name: `School ${n}` })
        .execute();
    for (let from = 0; from < made.length; from += 500) {
      const rows = made.slice(from, from + 500).map(({ id, key }, i) => ({
        id,
        school_id: uuidOf('school', (from + i) % schools),
        name: `Station ${from + i}`,
        key_sha256: hashOfSecret(key),
      }));
      await db.insertInto('stations').values(rows).execute();
    }
  });
  return made;
}

/** What goes wrong, each as a share of 0 to 1. */
export interface Mishaps {
  /** Stations whose log is lost once: they send all of theirs again. */
  readonly lostLog: number;
  /** Attempts that are reviewed after they were sent, sent again, and then once more as they were before. */
  readonly reviewed: number;
  readonly random: () => number;
}

/** Lets a station send all that it has, however often that takes; then what mishaps make it send again. */
export async function runStation(
  { key, attempts }: Simulated,
  address: string,
  folder: string,
  { lostLog, reviewed, random }: Mishaps,
  counts: Counts,
): Promise<void> {
  const data = path.join(folder, randomUUID());
  await mkdir(data, { recursive: true });
  const archive = counting(archiveAt(address, key), counts);
  const station = madeStation(data, shuffled(attempts, random));
  const all = (): Promise<void> =>
    insisting(counts, async () => {
      const log = await SentLog.open(data);
      await sendRound({ ...station, log }, archive, new AbortController().signal);
    });
  await all();
  if (random() < lostLog) {
    await SentLog.remove(data);
    await all();
  }
  const grown = attempts.filter(() => random() < reviewed);
  for (const attempt of grown) attempt.reviews += 1;
  if (grown.length > 0) await all();
  for (const attempt of grown) {
    const old = path.join(data, 'old.zip');
    await writeBundle(old, [carried({ ...attempt, reviews: 0 })], []);
    await insisting(counts, async () => void (await archive.send(old)));
  }
  await rm(data, { recursive: true });
}

/** How long a simulated station waits after a failure, ms: a real one a minute and longer. */
const AGAIN_AFTER = 500;

/** Does something until it is not broken off. */
async function insisting(counts: Counts, work: () => Promise<void>): Promise<void> {
  for (;;) {
    try {
      return await work();
    } catch (error) {
      if (!(error instanceof ArchiveAway)) throw error;
      counts.brokenOff += 1;
      await pause(AGAIN_AFTER);
    }
  }
}

function counting(archive: Archive, counts: Counts): Archive {
  return {
    ...archive,
    send: async (file) => {
      counts.sends += 1;
      const begun = performance.now();
      const taken = await archive.send(file);
      counts.answers += 1;
      counts.seconds.push((performance.now() - begun) / 1000);
      for (const kind of ['taken', 'already', 'replaced', 'refused'] as const)
        counts.said[kind] += taken[kind].length;
      return taken;
    },
  };
}

/** Fisher and Yates' shuffle. */
function shuffled<T>(list: readonly T[], random: () => number): T[] {
  const copy = [...list];
  for (let i = copy.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    const [a, b] = [copy[i], copy[j]];
    if (a !== undefined && b !== undefined) [copy[i], copy[j]] = [b, a];
  }
  return copy;
}

/** What is wrong in the archive after a simulation: lost, twice, otherwise than sent, sound that cannot be read. Empty where all is right. */
export async function wrongIn(store: Store, parts: Parts, stations: readonly Simulated[]): Promise<string[]> {
  const expected = new Map<string, string>();
  for (const { id, attempts } of stations)
    for (const attempt of attempts) expected.set(`${id} ${attempt.record}`, hashOf(attempt));
  const wrong: string[] = [];
  await store.as({ role: 'keeper' }, async (db) => {
    const rows = await db.selectFrom('attempts').select(['id', 'station_id', 'record', 'sha256']).execute();
    for (const { station_id, record, sha256 } of rows) {
      const key = `${station_id} ${record}`;
      const hash = expected.get(key);
      if (hash === undefined) wrong.push(`${key} is there twice, or was never sent`);
      else if (hash !== sha256) wrong.push(`${key} is not as it was sent`);
      expected.delete(key);
    }
    for (const key of expected.keys()) wrong.push(`${key} is lost`);
    const without = await db
      .selectFrom('attempts')
      .leftJoin('marks', 'marks.attempt_id', 'attempts.id')
      .select('record')
      .where('marks.attempt_id', 'is', null)
      .execute();
    for (const { record } of without) wrong.push(`${record} has no marks`);
    const kept = await db.selectFrom('parts').select('sha256').execute();
    for (const { sha256 } of kept)
      await parts.read(sha256).catch((error: Error) => wrong.push(error.message));
    const linked = await db.selectFrom('attempt_parts').select('attempt_id').execute();
    const sounds = stations.flatMap(({ attempts }) => attempts.filter(({ sound }) => sound !== null)).length;
    if (linked.length !== sounds)
      wrong.push(`${linked.length} attempts have sound, and ${sounds} were sent with it`);
  });
  return wrong;
}
