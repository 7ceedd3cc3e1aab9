import type { ReviewEvent } from '../../marking/events.ts';
import { parseJournal } from '../../records/journal.ts';
import type { Seen } from '../store/connection.ts';
import { wholeOf } from './journalText.ts';
import { markAsLast } from './markAgain.ts';
import { writeReviews, writeTries } from './markRows.ts';
import type { SchoolLibraries } from './schoolLibrary.ts';

/**
 * Adds what a person says of an attempt to its journal, and brings its verdicts in step. What the machine marked stays. Gives whether
 * there is such an attempt for who says so.
 */
export async function addReview(
  db: Seen,
  libraries: SchoolLibraries,
  school: string,
  id: string,
  said: readonly ReviewEvent[],
): Promise<boolean> {
  const there = await db
    .selectFrom('journals')
    .innerJoin('attempts', 'id', 'attempt_id')
    .select(['record', 'version', 'again', 'events', 'review'])
    .where('attempt_id', '=', id)
    .forUpdate()
    .executeTakeFirst();
  if (!there) return false;
  const review = there.review + said.map((event) => `${JSON.stringify(event)}\n`).join('');
  await db.updateTable('journals').set({ review }).where('attempt_id', '=', id).execute();
  const { header, ...journal } = parseJournal(Buffer.from(wholeOf({ ...there, review })), there.record);
  // It was taken in with one.
  if (!header) return true;
  const marking = await libraries.of(db, school);
  const marked = markAsLast(there.record, { ...journal, header }, marking, there);
  await writeReviews(db, id, marked, school, marking);
  await writeTries(db, id, marked, school, marking);
  const { signedOff: signed_off } = marked;
  await db.updateTable('attempts').set({ signed_off }).where('id', '=', id).execute();
  return true;
}
