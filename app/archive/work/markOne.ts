import { parseJournal } from '../../records/journal.ts';
import type { Archive, Seen } from '../store/connection.ts';
import { wholeOf } from '../taking/journalText.ts';
import { markAgain, NotMarkedAgain } from '../taking/markAgain.ts';
import type { Marked, ReadJournal } from '../taking/markAttempt.ts';
import { markedColumns, writeMarks, writeReviews, writeTries } from '../taking/markRows.ts';
import type { SchoolLibraries } from '../taking/schoolLibrary.ts';

/** What marking again needs beside the attempt. */
export interface Marks {
  readonly archive: Archive;
  readonly libraries: SchoolLibraries;
  /** Names the process that marks. */
  readonly worker: string;
}

/** What became of an attempt: `already` where this marking has reached it before, `gone` where it was deleted meanwhile. */
export type Fate = 'changed' | 'same' | 'left out' | 'already' | 'gone';

/**
 * Marks one attempt again, in one transaction with the note that it was: killed at any moment, it is marked whole or not at all, and who
 * comes to it later leaves it alone. What persons said stays.
 */
export function markOne(
  { archive, libraries, worker }: Marks,
  marking: { readonly id: string; readonly version: number },
  attempt: string,
): Promise<Fate> {
  return archive.as({ role: 'worker' }, async (db) => {
    const there = await findThere(db, attempt);
    if (!there) return 'gone';
    if (await isMarked(db, marking.id, attempt)) return 'already';
    const note = (changed: boolean, why = '') =>
      db
        .insertInto('marked_again')
        .values({ marking_id: marking.id, attempt_id: attempt, worker, changed, why })
        .execute();
    const its = await libraries.of(db, there.school_id);
    try {
      const marked = markAgain(there.record, journalOf(there), its, marking.version);
      const before = await outcomesOf(db, attempt);
      await db
        .updateTable('attempts')
        .set({ ...columnsOf(marked), again: true })
        .where('id', '=', attempt)
        .execute();
      await writeMarks(db, attempt, marked, there.school_id, its);
      await writeReviews(db, attempt, marked, there.school_id, its);
      await writeTries(db, attempt, marked, there.school_id, its);
      const changed = before !== (await outcomesOf(db, attempt));
      await note(changed);
      return changed ? 'changed' : 'same';
    } catch (error) {
      if (!(error instanceof NotMarkedAgain)) throw error;
      await note(false, error.message);
      return 'left out';
    }
  });
}

/** The attempt, held until the transaction ends: nobody deletes, replaces or reviews it meanwhile. */
const findThere = (db: Seen, attempt: string) =>
  db
    .selectFrom('attempts')
    .innerJoin('journals', 'attempt_id', 'id')
    .select(['record', 'school_id', 'events', 'review'])
    .where('id', '=', attempt)
    .forUpdate('attempts')
    .executeTakeFirst();

async function isMarked(db: Seen, marking: string, attempt: string): Promise<boolean> {
  const note = db.selectFrom('marked_again').select('at').where('marking_id', '=', marking);
  return (await note.where('attempt_id', '=', attempt).executeTakeFirst()) !== undefined;
}

function journalOf(there: { record: string; events: string; review: string }): ReadJournal {
  const { header, ...read } = parseJournal(Buffer.from(wholeOf(there)), there.record);
  if (!header) throw new NotMarkedAgain('Its journal has no header that this program can read.');
  return { ...read, header };
}

/** Only what marking changes: when it began, how long it took and who heard it stay. */
function columnsOf(marked: Marked) {
  const { version, passed, heard, of, critical_missed, marked_by } = markedColumns(marked);
  return { version, passed, heard, of, critical_missed, marked_by };
}

/** The marks of an attempt in one text, by the steps' own names. */
async function outcomesOf(db: Seen, attempt: string): Promise<string> {
  const rows = await db
    .selectFrom('marks')
    .innerJoin('steps', 'steps.id', 'step_id')
    .select(['place', 'step', 'outcome', 'credited'])
    .where('attempt_id', '=', attempt)
    .orderBy('place')
    .orderBy('step')
    .execute();
  return JSON.stringify(rows);
}
