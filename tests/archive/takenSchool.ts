import { randomUUID } from 'node:crypto';
import type { Archive } from '../../app/archive/store/connection.ts';
import type { Taken } from '../../app/archive/serving/api.ts';
import { keepProgramSkills } from '../../app/archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../app/archive/taking/schoolLibrary.ts';
import { takeIn, type StationWho } from '../../app/archive/taking/takeIn.ts';
import { openLibrary } from '../../app/library/library.ts';
import { madeBundle, madeJournal, recordOf, type MadeJournal } from './madeJournals.ts';

/** Schools, stations and attempts for tests of the archive. */

export const programs = await openLibrary();

/** No sound is kept in these tests. */
export const NO_PARTS = {
  where: 'nowhere',
  has: () => Promise.resolve(false),
  put: () => Promise.resolve(),
  read: () => Promise.reject(new Error('There are no parts.')),
  remove: () => Promise.resolve(),
};

/** A school with one station. */
export interface MadeSchool {
  readonly id: string;
  readonly station: StationWho;
  /** Takes journals in, each of the trainee named beside it, who is of the class named there. */
  take(sent: readonly Sent[]): Promise<Taken>;
}

export interface Sent {
  readonly journal: MadeJournal;
  readonly person: string;
  readonly name: string;
  readonly class: string;
}

export async function makeSchool(archive: Archive, name: string): Promise<MadeSchool> {
  await keepProgramSkills(archive, programs);
  const [id, station] = [randomUUID(), randomUUID()];
  await archive.as({ role: 'keeper' }, async (db) => {
    await db.insertInto('schools').values({ id, name }).execute();
    const key = { key_sha256: `${name} ${station}` };
    await db
      .insertInto('stations')
      .values({ id: station, school_id: id, name, ...key })
      .execute();
  });
  const who = { role: 'station', station, school: id } as const;
  const taking = { archive, parts: NO_PARTS, libraries: new SchoolLibraries(programs) };
  let taken = 0;
  return {
    id,
    station: who,
    take: (sent) =>
      takeIn(
        taking,
        who,
        madeBundle(
          sent.map(({ journal, person, name, class: className }) => ({
            ...journal,
            record: recordOf(journal, ++taken),
            trainee: { id: person, name, class: className, consent: null },
          })),
        ),
      ),
  };
}

/** An account of a school, without a token that anybody knows. */
export async function makeAccount(
  archive: Archive,
  school: string,
  role: 'instructor' | 'school',
  classes: readonly string[] = [],
): Promise<string> {
  const id = randomUUID();
  await archive.as({ role: 'keeper' }, async (db) => {
    await db
      .insertInto('accounts')
      .values({
        id,
        school_id: school,
        role,
        name: role,
        person_id: null,
        token_sha256: id,
        revoked_at: null,
      })
      .execute();
    const rows = classes.map((class_id) => ({ account_id: id, class_id }));
    if (rows.length > 0) await db.insertInto('account_classes').values(rows).execute();
  });
  return id;
}

/** Journals of people of a class, some each. */
export const madeSents = (
  people: readonly { readonly person: string; readonly class: string }[],
  each: number,
  from: number,
  skill?: string,
): Sent[] =>
  people.flatMap(({ person, class: className }, i) =>
    Array.from({ length: each }, (_, n) => ({
      journal: madeJournal(from + i * each + n, skill),
      person,
      name: `Trainee ${i}`,
      class: className,
    })),
  );
