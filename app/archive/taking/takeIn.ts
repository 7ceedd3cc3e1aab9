import { createHash } from 'node:crypto';
import { entryOf, type CarriedAttempt, type CarriedSkill } from '../../bundle/manifest.ts';
import type { OpenBundle } from '../../bundle/read.ts';
import type { Parts } from '../parts/parts.ts';
import { sweepParts } from '../parts/sweep.ts';
import { note } from '../store/audit.ts';
import type { Archive, Seen } from '../store/connection.ts';
import type { Who } from '../store/who.ts';
import type { Taken } from '../serving/api.ts';
import type { SchoolLibraries } from './schoolLibrary.ts';
import { enter, soundOf, takeAttempt, type Fate } from './takeAttempt.ts';

export type StationWho = Who & { readonly role: 'station' };

/** What taking in needs beside the bundle. */
export interface Taking {
  readonly archive: Archive;
  readonly parts: Parts;
  readonly libraries: SchoolLibraries;
}

/** The station's key was revoked. */
export class StationRevoked extends Error {
  override readonly name = 'StationRevoked';
}

/**
 * Takes in what a station sends, all of it in one transaction. The same content is taken once, more of a journal that is here replaces
 * it, what was deleted stays deleted. What it costs depends on what is sent alone.
 *
 * @throws {BundleRefused} the bundle is damaged: then nothing is taken
 * @throws {StationRevoked}
 */
export async function takeIn(taking: Taking, station: StationWho, bundle: OpenBundle): Promise<Taken> {
  const { archive, parts } = taking;
  const { attempts } = bundle.manifest;
  const known = await archive.as(station, async (db) => {
    await touch(db, station);
    return hashesOf(db, attempts);
  });
  const fresh = attempts.filter(({ record, sha256 }) => known.get(record) !== sha256);
  const fates: Fate[] = attempts
    .filter((attempt) => !fresh.includes(attempt))
    .map(({ record }) => ({ record, fate: 'already' }));
  // What was brought and is not kept after all goes again.
  let leftOver = fresh.flatMap((attempt) => soundOf(attempt)?.sha256 ?? []);
  try {
    // Before the transaction: bringing sound to its store may take long.
    for (const attempt of fresh) {
      const sound = soundOf(attempt);
      if (sound) await parts.put(sound.sha256, await bundle.read(entryOf(attempt.record, sound.path)));
    }
    if (fresh.length > 0)
      fates.push(...(await despiteDeadlock(() => takeFresh(taking, station, bundle, fresh))));
    const kept = new Set(fates.filter(isKept).map(({ record }) => record));
    leftOver = fresh.flatMap((each) => (kept.has(each.record) ? [] : (soundOf(each)?.sha256 ?? [])));
  } finally {
    const replaced = fates.flatMap((each) => each.replacedParts ?? []);
    await sweepParts(archive, parts, [...leftOver, ...replaced]);
  }
  return takenOf(fates);
}

/** PostgreSQL has ended one of two transactions that waited for each other (appendix A of its manual). */
const DEADLOCK = '40P01';
/** Stations of one class may meet over its rows; a third time in a row is no chance. */
const TRIES = 3;

/** Does something, again where it was ended for a deadlock: then nothing of it was done. */
async function despiteDeadlock<T>(work: () => Promise<T>): Promise<T> {
  for (let tries = 1; ; tries++)
    try {
      return await work();
    } catch (error) {
      if ((error as { code?: unknown }).code !== DEADLOCK || tries === TRIES) throw error;
    }
}

const isKept = ({ fate }: Fate): boolean => fate === 'taken' || fate === 'replaced';

/** Takes attempts in that are not here as they come. */
function takeFresh(
  { archive, parts, libraries }: Taking,
  station: StationWho,
  bundle: OpenBundle,
  fresh: readonly CarriedAttempt[],
): Promise<Fate[]> {
  return archive.as(station, async (db) => {
    // From here on this station has its turn: nothing else of it is taken meanwhile.
    await touch(db, station);
    await keepSkills(db, station.school, bundle.manifest.skills);
    const marking = await libraries.of(db, station.school);
    const deleted = await deletedOf(db, station, fresh);
    const fates: Fate[] = fresh
      .filter(({ record }) => deleted.has(record))
      .map(({ record }) => ({ record, fate: 'refused', why: 'It was deleted in the archive.' }));
    const others = inOneOrder(fresh.filter(({ record }) => !deleted.has(record)));
    for (const { trainee } of others) if (trainee) await enter(db, station.school, trainee);
    for (const attempt of others)
      fates.push(await takeAttempt({ db, parts, station, bundle, marking }, attempt));
    await note(db, station, 'sent attempts', fresh.map(({ record }) => record).join(' '));
    return fates;
  });
}

/**
 * Attempts in an order that is the same at every station: so transactions that add the same classes, people and counts come to them in one
 * order, and never wait for each other in a circle.
 */
const inOneOrder = (attempts: readonly CarriedAttempt[]): CarriedAttempt[] => {
  const keyOf = ({ trainee, record }: CarriedAttempt): string =>
    [trainee?.class, trainee?.id, record.replace(/^\w+-/, ''), record].join('\0');
  return attempts
    .map((attempt) => ({ attempt, key: keyOf(attempt) }))
    .sort((a, b) => Number(a.key > b.key) - Number(a.key < b.key))
    .map(({ attempt }) => attempt);
};

/** Those of some attempts that were deleted here. */
async function deletedOf(
  db: Seen,
  { station }: StationWho,
  attempts: readonly CarriedAttempt[],
): Promise<Set<string>> {
  const records = attempts.map(({ record }) => record);
  const rows = await db
    .selectFrom('deletions')
    .select('record')
    .where('station_id', '=', station)
    .where('record', 'in', records)
    .execute();
  return new Set(rows.map(({ record }) => record));
}

/** Notes that the station was here, and makes others of it wait until the transaction ends. Throws {@link StationRevoked}. */
export async function touch(db: Seen, { station }: StationWho): Promise<void> {
  const { numUpdatedRows } = await db
    .updateTable('stations')
    .set({ last_seen_at: new Date() })
    .where('id', '=', station)
    .where('revoked_at', 'is', null)
    .executeTakeFirst();
  if (numUpdatedRows === 0n) throw new StationRevoked('The key of this station was revoked.');
}

async function hashesOf(db: Seen, attempts: readonly CarriedAttempt[]): Promise<Map<string, string>> {
  if (attempts.length === 0) return new Map();
  const records = attempts.map(({ record }) => record);
  const rows = await db
    .selectFrom('attempts')
    .select(['record', 'sha256'])
    .where('record', 'in', records)
    .execute();
  return new Map(rows.map(({ record, sha256 }) => [record, sha256]));
}

/** Keeps the school's own skills that are new here; a version that came before is never replaced. */
async function keepSkills(db: Seen, school: string, carried: readonly CarriedSkill[]): Promise<void> {
  const sorted = [...carried].sort((a, b) => a.id.localeCompare(b.id) || a.version - b.version);
  for (const { id: skill, version, source, slots } of sorted) {
    const own = { skill, version, source, slots: JSON.stringify(slots) };
    const sha256 = createHash('sha256').update(`${source}\0${own.slots}`).digest('hex');
    await db
      .insertInto('skills')
      .values({ school_id: school, sha256, ...own })
      .onConflict((conflict) => conflict.doNothing())
      .execute();
  }
}

function takenOf(fates: readonly Fate[]): Taken {
  const of = (fate: Fate['fate']): string[] =>
    fates.filter((each) => each.fate === fate).map(({ record }) => record);
  return {
    taken: of('taken'),
    already: of('already'),
    replaced: of('replaced'),
    refused: fates.flatMap((each) =>
      each.fate === 'refused' ? [{ record: each.record, why: each.why }] : [],
    ),
  };
}
