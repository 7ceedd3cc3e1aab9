import { CAUTION } from '../../../marking/result.ts';
import type { Seen } from '../../store/connection.ts';
import { note } from '../../store/audit.ts';
import { deleteAttempts, deleting } from '../../taking/deletions.ts';
import { addReview } from '../../taking/review.ts';
import type { Taking } from '../../taking/takeIn.ts';
import {
  AttemptQuerySchema,
  NewReviewSchema,
  type AttemptQuery,
  type AttemptRow,
  type AttemptPage,
  type OneAttempt,
} from '../peopleApi.ts';
import { notThere } from '../refused.ts';
import { readJson, readNumberId, readQuery } from '../request.ts';
import { done, PEOPLE, route, TEACHERS, type Route } from '../route.ts';
import type { SignedIn } from '../signIn.ts';

/** Attempts: found by page, one with its journal and sound, reviewed, deleted. */
export const attemptRoutes = ({ archive, parts, libraries }: Taking): Route[] => [
  route('GET', '/api/attempts', PEOPLE, async ({ c, who, seen }) => {
    const query = readQuery(c, AttemptQuerySchema);
    const attempts = await seen((db) => findAttempts(db, who.school, query));
    const last = attempts.at(-1);
    const next = last && attempts.length === query.limit ? `${last.startedAt}~${last.id}` : null;
    return c.json({ attempts, next } satisfies AttemptPage);
  }),
  route('GET', '/api/attempts/:id', PEOPLE, async ({ c, who, seen }) => {
    const id = readNumberId(c);
    return c.json((await seen((db) => readAttempt(db, who, id))) satisfies OneAttempt);
  }),
  route('GET', '/api/attempts/:id/sound', PEOPLE, async ({ c, seen }) => {
    const id = readNumberId(c);
    const part = await seen((db) =>
      db
        .selectFrom('attempt_parts')
        .select(['name', 'sha256'])
        .where('attempt_id', '=', id)
        .executeTakeFirst(),
    );
    if (!part) throw notThere('sound');
    const sound = await parts.read(part.sha256);
    const type = part.name.endsWith('.flac') ? 'audio/flac' : 'audio/wav';
    return c.body(new Uint8Array(sound), 200, { 'content-type': type });
  }),
  route('POST', '/api/attempts/:id/review', TEACHERS, async ({ c, who, name, seen }) => {
    const id = readNumberId(c);
    const { events } = await readJson(c, NewReviewSchema);
    const said = events.map((event) => ({ ...event, by: name }));
    const isDone = await seen((db) => addReview(db, libraries, who.school, id, said));
    if (!isDone) throw notThere('attempt');
    return done();
  }),
  route('DELETE', '/api/attempts/:id', TEACHERS, async ({ c, who }) => {
    const id = readNumberId(c);
    await deleting(archive, parts, who, async (db) => {
      await note(db, who, 'DELETE /api/attempts/:id', c.req.path);
      const deleted = await deleteAttempts(db, [id]);
      if (deleted.attempts.length === 0) throw notThere('attempt');
      return deleted;
    });
    return done();
  }),
];

const COLUMNS = [
  'id',
  'person_id',
  'class_id',
  'skill',
  'version',
  'started_at',
  'seconds',
  'passed',
  'heard',
  'of',
  'critical_missed',
  'signed_off',
] as const;

/** The newest attempts that fit and are for who asks, as many as one page has. */
async function findAttempts(
  db: Seen,
  school: string,
  { class: ofClass, person, skill, from, to, limit, after }: AttemptQuery,
): Promise<AttemptRow[]> {
  const [afterAt, afterId] = after?.split('~') ?? [];
  const rows = await db
    .selectFrom('attempts')
    .select(COLUMNS)
    .where('school_id', '=', school)
    .where(({ and, eb, refTuple, tuple }) => {
      const conditions = [];
      if (ofClass !== undefined) conditions.push(eb('class_id', '=', ofClass));
      if (person !== undefined) conditions.push(eb('person_id', '=', person));
      if (skill !== undefined) conditions.push(eb('skill', '=', skill));
      if (from !== undefined) conditions.push(eb('started_at', '>=', new Date(from)));
      if (to !== undefined) conditions.push(eb('started_at', '<', new Date(to)));
      if (afterAt !== undefined && afterId !== undefined)
        conditions.push(eb(refTuple('started_at', 'id'), '<', tuple(new Date(afterAt), afterId)));
      return and(conditions);
    })
    .orderBy('started_at', 'desc')
    .orderBy('id', 'desc')
    .limit(limit)
    .execute();
  return rows.map(rowOf);
}

async function readAttempt(db: Seen, { role }: SignedIn, id: string): Promise<OneAttempt> {
  const row = await db
    .selectFrom('attempts')
    .innerJoin('journals', 'attempt_id', 'id')
    .select([...COLUMNS, 'record', 'engine', 'events'])
    .where('id', '=', id)
    .executeTakeFirst();
  if (!row) throw notThere('attempt');
  const review = role === 'trainee' ? undefined : await reviewOf(db, id);
  const sound = await db
    .selectFrom('attempt_parts')
    .select('name')
    .where('attempt_id', '=', id)
    .executeTakeFirst();
  const { record, engine, events } = row;
  const journal = events + (review ?? '');
  return { ...rowOf(row), record, engine, journal, hasSound: sound !== undefined, caution: CAUTION };
}

async function reviewOf(db: Seen, id: string): Promise<string | undefined> {
  const journal = db.selectFrom('journals').select('review').where('attempt_id', '=', id);
  return (await journal.executeTakeFirst())?.review;
}

function rowOf(row: {
  id: string;
  person_id: string | null;
  class_id: string | null;
  skill: string;
  version: number | null;
  started_at: Date;
  seconds: number;
  passed: boolean | null;
  heard: number;
  of: number;
  critical_missed: number;
  signed_off: boolean;
}): AttemptRow {
  const { id, person_id, class_id, skill, version, seconds, passed, heard, of } = row;
  return {
    id,
    person: person_id,
    class: class_id,
    skill,
    version,
    startedAt: row.started_at.toISOString(),
    seconds,
    passed,
    heard,
    of,
    criticalMissed: row.critical_missed,
    signedOff: row.signed_off,
  };
}
