import { randomUUID } from 'node:crypto';
import { sql } from 'kysely';
import type { Archive } from '../../../app/archive/store/connection.ts';
import { keepProgramSkills } from '../../../app/archive/taking/programSkills.ts';
import { takeIn } from '../../../app/archive/taking/takeIn.ts';
import { SchoolLibraries } from '../../../app/archive/taking/schoolLibrary.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { madeBundle, madeJournal, recordOf } from '../madeJournals.ts';
import { spread, timed } from './figures.ts';

/** Attempts that warm the process up. */
const WARM = 20;

/** What it costs to take attempts in, each in a bundle of its own, of a school that has many already: marked, counted, committed. */
export async function measureTakingIn(archive: Archive, taken: number): Promise<string> {
  const library = await openLibrary();
  await keepProgramSkills(archive, library);
  const libraries = new SchoolLibraries(library);
  const { rows } = await sql<{
    station: string;
    school: string;
    person: string;
    name: string;
    class: string;
  }>`
    select s.id as station, s.school_id as school, p.id as person, p.name, c.name as class
    from stations s join people p on p.school_id = s.school_id join classes c on c.id = p.class_id
    order by md5(p.id::text) limit ${taken + WARM}`.execute(archive.db);
  const took: number[] = [];
  for (const [i, { station, school, person, name, class: className }] of rows.entries()) {
    const journal = madeJournal(i);
    const trainee = { id: person, name, class: className, consent: null };
    const nonce = randomUUID().slice(0, 8);
    // What is sent again would be known by its hash.
    const text = journal.text.replace('moonshine-tiny-en-tap', `made-${nonce}`);
    const bundle = madeBundle([{ ...journal, text, record: `${recordOf(journal)}-${nonce}`, trainee }]);
    const ms = await timed(async () => {
      const reply = await takeIn(
        { archive, parts: NO_PARTS, libraries },
        { role: 'station', station, school },
        bundle,
      );
      if (reply.taken.length !== 1) throw new Error(`Not taken: ${JSON.stringify(reply.refused)}`);
    });
    if (i >= WARM) took.push(ms);
  }
  return spread(took);
}

/** Their trainees keep no sound. */
const NO_PARTS = {
  where: 'nowhere',
  has: () => Promise.resolve(false),
  put: () => Promise.resolve(),
  read: () => Promise.reject(new Error('There are no parts.')),
  remove: () => Promise.resolve(),
};
