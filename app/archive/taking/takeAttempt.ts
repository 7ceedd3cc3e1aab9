import { randomUUID } from 'node:crypto';
import { sql } from 'kysely';
import { entryOf, type CarriedAttempt, type CarriedFile } from '../../bundle/manifest.ts';
import type { OpenBundle } from '../../bundle/read.ts';
import type { Trainee } from '../../people/trainee.ts';
import { parseJournal } from '../../records/journal.ts';
import type { Parts } from '../parts/parts.ts';
import { holdPart } from '../parts/sweep.ts';
import type { Seen } from '../store/connection.ts';
import { joined, partJournal, wholeOf, type JournalText } from './journalText.ts';
import { markAsLast } from './markAgain.ts';
import type { Marked, ReadJournal } from './markAttempt.ts';
import { markedColumns, writeMarks, writeReviews, writeTries } from './markRows.ts';
import type { Marking } from './schoolLibrary.ts';
import type { StationWho } from './takeIn.ts';

/** What became of an attempt that was sent. */
export type Fate = {
  readonly record: string;
  /** Contents that it no longer has. */
  readonly replacedParts?: readonly string[];
} & (
  { readonly fate: 'taken' | 'already' | 'replaced' } | { readonly fate: 'refused'; readonly why: string }
);

/** The transaction in which a bundle of a station is taken in. */
export interface Turn {
  readonly db: Seen;
  readonly parts: Parts;
  readonly station: StationWho;
  readonly bundle: OpenBundle;
  readonly marking: Marking;
}

const UNREADABLE = 'Its journal has no header that this program can read.';
const OTHER = 'The archive has another rehearsal under this name: their beginnings differ.';
const ELSEWHERE = 'Its trainee cannot be entered: the archive has somebody else under that id.';

/** The sound that is kept of an attempt: none where the trainee has not agreed. */
export const soundOf = ({ files, trainee }: CarriedAttempt): CarriedFile | undefined =>
  trainee?.consent?.agreed ? files.find(({ path }) => path !== 'journal.jsonl') : undefined;

/** Takes one attempt in. */
export async function takeAttempt(turn: Turn, attempt: CarriedAttempt): Promise<Fate> {
  const { db, station, bundle } = turn;
  const { record, trainee } = attempt;
  const refused = (why: string): Fate => ({ record, fate: 'refused', why });
  const there = await findThere(db, station, record);
  // It came at the same time by another way.
  if (there?.sha256 === attempt.sha256) return { record, fate: 'already' };
  const came = partJournal(await bundle.read(entryOf(record, 'journal.jsonl')));
  const journal = there ? joined(there, came) : came;
  if (journal === null) return refused(OTHER);
  const read = readAgain(record, journal);
  if (read === null) return refused(UNREADABLE);
  const person = trainee && (await enter(db, station.school, trainee));
  if (trainee && !person) return refused(ELSEWHERE);
  const marked = markAsLast(record, read, turn.marking, there);
  const who = { person_id: person?.id ?? null, class_id: person?.class_id ?? null };
  if (there) return replace(turn, attempt, there, { came, journal, marked });
  const id = await insert(db, station, attempt, { ...who, ...markedColumns(marked) });
  if (id === undefined) return noteCopy(turn, attempt);
  await db
    .insertInto('journals')
    .values({ attempt_id: id, ...journal })
    .execute();
  await writeMarks(db, id, marked, station.school, turn.marking);
  await writeReviews(db, id, marked, station.school, turn.marking);
  await writeTries(db, id, marked, station.school, turn.marking);
  await keepSound(turn, id, attempt);
  return { record, fate: 'taken' };
}

interface There extends JournalText {
  readonly id: string;
  readonly sha256: string;
  readonly version: number | null;
  readonly again: boolean;
}

function findThere(db: Seen, { station }: StationWho, record: string): Promise<There | undefined> {
  return (
    db
      .selectFrom('attempts')
      .innerJoin('journals', 'attempt_id', 'id')
      .select(['id', 'sha256', 'version', 'again', 'events', 'review'])
      .where('station_id', '=', station)
      .where('record', '=', record)
      // Somebody may be reviewing it.
      .forUpdate()
      .executeTakeFirst()
  );
}

function readAgain(record: string, journal: JournalText): ReadJournal | null {
  const read = parseJournal(Buffer.from(wholeOf(journal)), record);
  return read.header && { ...read, header: read.header };
}

/** Adds who rehearsed, and their class, where they are missing. Null where another school has somebody of that id. */
export async function enter(
  db: Seen,
  school: string,
  { id, name, class: className }: Trainee,
): Promise<{ readonly id: string; readonly class_id: string | null } | null> {
  const known = (): Promise<{ id: string; class_id: string | null } | undefined> =>
    db.selectFrom('people').select(['id', 'class_id']).where('id', '=', id).executeTakeFirst();
  const there = await known();
  if (there) return there;
  const class_id = className === '' ? null : await enterClass(db, school, className);
  await db
    .insertInto('people')
    .values({ id, school_id: school, class_id, name })
    .onConflict((conflict) => conflict.doNothing())
    .execute();
  return (await known()) ?? null;
}

async function enterClass(db: Seen, school: string, name: string): Promise<string> {
  await db
    .insertInto('classes')
    .values({ id: randomUUID(), school_id: school, name })
    .onConflict((conflict) => conflict.doNothing())
    .execute();
  const { id } = await db
    .selectFrom('classes')
    .select('id')
    .where('school_id', '=', school)
    .where('name', '=', name)
    .executeTakeFirstOrThrow();
  return id;
}

async function insert(
  db: Seen,
  { station, school }: StationWho,
  { record, sha256, keepUntil, trainee }: CarriedAttempt,
  columns: ReturnType<typeof markedColumns> & { person_id: string | null; class_id: string | null },
): Promise<string | undefined> {
  const row = await db
    .insertInto('attempts')
    .values({
      school_id: school,
      station_id: station,
      record,
      sha256,
      agreed_to_sound: trainee?.consent?.agreed ?? false,
      keep_until: keepUntil === null ? null : new Date(keepUntil),
      ...columns,
    })
    .onConflict((conflict) => conflict.doNothing())
    .returning('id')
    .executeTakeFirst();
  return row?.id;
}

/** Puts what came in the place of what is there, where it says more. */
async function replace(
  turn: Turn,
  attempt: CarriedAttempt,
  there: There,
  {
    came,
    journal,
    marked,
  }: { readonly came: JournalText; readonly journal: JournalText; readonly marked: Marked },
): Promise<Fate> {
  const { db, station, marking } = turn;
  const { record, sha256, keepUntil, trainee } = attempt;
  // An older copy, as after the station was put back from a backup or over a slow line: its sound is the older one as well.
  const isOlder =
    came.events.length < there.events.length ||
    (came.events === there.events &&
      came.review.length < there.review.length &&
      journal.review === there.review);
  if (isOlder && journal.review === there.review) return { record, fate: 'already' };
  const { id } = there;
  const columns = {
    ...markedColumns(marked),
    agreed_to_sound: trainee?.consent?.agreed ?? false,
    keep_until: keepUntil === null ? null : new Date(keepUntil),
    ...(!isOlder && { sha256 }),
  };
  const update = db.updateTable('attempts').set(columns).where('id', '=', id);
  if (!(await unlessTwice(db, () => update.execute()))) return noteCopy(turn, attempt);
  await db.updateTable('journals').set(journal).where('attempt_id', '=', id).execute();
  await writeMarks(db, id, marked, station.school, marking);
  await writeReviews(db, id, marked, station.school, marking);
  await writeTries(db, id, marked, station.school, marking);
  if (isOlder) return { record, fate: 'replaced' };
  const before = await db
    .deleteFrom('attempt_parts')
    .where('attempt_id', '=', id)
    .returning('sha256')
    .execute();
  await keepSound(turn, id, attempt);
  return { record, fate: 'replaced', replacedParts: before.map((part) => part.sha256) };
}

/** Notes that this station, too, has what another one of the school has sent. */
async function noteCopy({ db, station }: Turn, { record, sha256 }: CarriedAttempt): Promise<Fate> {
  const copy = { sha256, school_id: station.school };
  await db
    .insertInto('copies')
    .values({ station_id: station.station, record, ...copy })
    .onConflict((conflict) => conflict.columns(['station_id', 'record']).doUpdateSet(copy))
    .execute();
  return { record, fate: 'already' };
}

/** PostgreSQL's code for a row that would be there twice (appendix A of its manual). */
const UNIQUE_VIOLATION = '23505';

/** Does something, or leaves all as it was where that would make a row twice. Gives whether it was done. */
async function unlessTwice(db: Seen, work: () => Promise<unknown>): Promise<boolean> {
  await sql`savepoint once`.execute(db);
  try {
    await work();
    return true;
  } catch (error) {
    if ((error as { code?: string }).code !== UNIQUE_VIOLATION) throw error;
    await sql`rollback to savepoint once`.execute(db);
    return false;
  }
}

/** Notes which sound an attempt has. It was brought to its store before; if it was swept from there since, it is brought again. */
async function keepSound({ db, parts, bundle }: Turn, id: string, attempt: CarriedAttempt): Promise<void> {
  const sound = soundOf(attempt);
  if (!sound) return;
  const { path: name, sha256, bytes } = sound;
  await holdPart(db, sha256);
  if (!(await parts.has(sha256))) await parts.put(sha256, await bundle.read(entryOf(attempt.record, name)));
  await db
    .insertInto('parts')
    .values({ sha256, bytes })
    .onConflict((conflict) => conflict.doNothing())
    .execute();
  await db.insertInto('attempt_parts').values({ attempt_id: id, name, sha256 }).execute();
}
