import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { FileParts } from '../../app/archive/parts/fileParts.ts';
import { makeAccount } from '../../app/archive/serving/accounts.ts';
import { enrol, makeCode } from '../../app/archive/serving/enrolling.ts';
import { signIn, type SignedIn } from '../../app/archive/serving/signIn.ts';
import type { Archive } from '../../app/archive/store/connection.ts';
import { noteGone } from '../../app/archive/taking/deletions.ts';
import { keepProgramSkills } from '../../app/archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../app/archive/taking/schoolLibrary.ts';
import { takeIn, type Taking } from '../../app/archive/taking/takeIn.ts';
import { openLibrary } from '../../app/library/library.ts';
import { attempt, bundle, journal, linesOf, person, record, startOf, uuid, verdict } from './made.ts';

export const NORTH = uuid(1);
export const SOUTH = uuid(2);
export const ANN = person(11, 'Ann', 'Monday');
export const BEN = person(12, 'Ben', 'Friday');
export const CLEO = person(13, 'Cleo');
export const SAM = person(21, 'Sam', 'Sunday');

/** Somebody who can sign in. */
export interface Someone {
  readonly who: SignedIn;
  readonly token: string;
}

/**
 * Two schools. North: Ann in the Monday class and Ben in the Friday class, who rehearsed at its first sink, and Cleo, who is in no class,
 * at its second, which also has a copy of Ann's. South: Sam in the Sunday class. Each has one attempt with sound and one verdict, and each
 * school an open code, a skill of its own, and an attempt that was deleted.
 */
export interface TwoSchools extends Taking {
  readonly trainee: Someone;
  readonly instructor: Someone;
  readonly school: Someone;
  readonly station: Someone;
  /** Of the other school. */
  readonly others: {
    readonly trainee: Someone;
    readonly instructor: Someone;
    readonly school: Someone;
    readonly station: Someone;
  };
  /** Ids of attempts by whose they are. */
  readonly attempts: Readonly<Record<'ann' | 'ben' | 'cleo' | 'sam', string>>;
  /** Folder for bundles and uploads. */
  readonly folder: string;
  end(): Promise<void>;
}

export async function twoSchools(archive: Archive): Promise<TwoSchools> {
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-schools-'));
  const library = await openLibrary();
  await keepProgramSkills(archive, library);
  const parts = new FileParts(path.join(folder, 'parts'));
  const taking = { archive, parts, libraries: new SchoolLibraries(library) };
  await archive.as({ role: 'keeper' }, (db) =>
    db
      .insertInto('schools')
      .values([
        { id: NORTH, name: 'North' },
        { id: SOUTH, name: 'South' },
      ])
      .execute(),
  );
  const [first, second, other] = await Promise.all([
    station(archive, NORTH, 'Sink 1'),
    station(archive, NORTH, 'Sink 2'),
    station(archive, SOUTH, 'Sink'),
  ]);
  const send = async (
    at: Someone,
    seconds: readonly number[],
    of: readonly (typeof ANN)[],
  ): Promise<void> => {
    const attempts = of.map((trainee, i) => {
      const when = seconds[i] ?? 0;
      const text = journal(trainee.id, startOf(when)) + linesOf([verdict('wet', 'yes')]);
      return attempt(when, trainee, { text, sound: `sound of ${trainee.name}` });
    });
    const own = { id: 'our-own-skill', version: 1, source: 'not a skill', slots: {} };
    const { refused } = await takeIn(taking, stationOf(at), await bundle(folder, attempts, [own]));
    if (refused.length > 0) throw new Error(JSON.stringify(refused));
  };
  await send(first, [1, 2], [ANN, BEN]);
  await send(second, [3, 1], [CLEO, ANN]);
  await send(other, [4], [SAM]);
  for (const at of [first, other])
    await noteGone(archive, parts, stationOf(at), [{ record: record(99), at: startOf(100) }]);
  await archive.as({ role: 'keeper' }, async (db) => {
    await makeCode(db, NORTH, 'Sink 3');
    await makeCode(db, SOUTH, 'Sink 2');
  });
  return {
    ...taking,
    folder,
    station: first,
    trainee: await account(archive, NORTH, { role: 'trainee', name: 'Ann', person: ANN.id }),
    instructor: await account(archive, NORTH, {
      role: 'instructor',
      name: 'Ina',
      classes: [await classNamed(archive, 'Monday')],
    }),
    school: await account(archive, NORTH, { role: 'school', name: 'Nora' }),
    others: {
      station: other,
      trainee: await account(archive, SOUTH, { role: 'trainee', name: 'Sam', person: SAM.id }),
      instructor: await account(archive, SOUTH, {
        role: 'instructor',
        name: 'Sol',
        classes: [await classNamed(archive, 'Sunday')],
      }),
      school: await account(archive, SOUTH, { role: 'school', name: 'Sid' }),
    },
    attempts: {
      ann: await attemptOf(archive, ANN.id),
      ben: await attemptOf(archive, BEN.id),
      cleo: await attemptOf(archive, CLEO.id),
      sam: await attemptOf(archive, SAM.id),
    },
    end: () => rm(folder, { recursive: true, force: true }),
  };
}

export function stationOf({ who }: Someone): SignedIn & { readonly role: 'station' } {
  if (who.role !== 'station') throw new Error(`A ${who.role} is no station.`);
  return who;
}

/** Enrols a station as it does itself. */
export async function station(archive: Archive, school: string, name: string): Promise<Someone> {
  const { code } = await archive.as({ role: 'keeper' }, (db) => makeCode(db, school, name));
  const enrolled = await enrol(archive, code);
  return known(archive, enrolled?.key ?? '');
}

export async function account(
  archive: Archive,
  school: string,
  of: Parameters<typeof makeAccount>[2],
): Promise<Someone> {
  const { token } = await archive.as({ role: 'keeper' }, (db) => makeAccount(db, school, of));
  return known(archive, token);
}

async function known(archive: Archive, token: string): Promise<Someone> {
  const found = await signIn(archive, token);
  if (!found) throw new Error('Who was just made cannot sign in.');
  return { who: found.who, token };
}

const classNamed = (archive: Archive, name: string): Promise<string> =>
  archive.as({ role: 'keeper' }, async (db) => {
    const query = db.selectFrom('classes').select('id').where('name', '=', name);
    return (await query.executeTakeFirstOrThrow()).id;
  });

const attemptOf = (archive: Archive, person_id: string): Promise<string> =>
  archive.as({ role: 'keeper' }, async (db) => {
    const query = db.selectFrom('attempts').select('id').where('person_id', '=', person_id);
    return (await query.executeTakeFirstOrThrow()).id;
  });
