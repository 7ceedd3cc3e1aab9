import { randomUUID } from 'node:crypto';
import { note } from '../../store/audit.ts';
import { deleteAttempts, deleting } from '../../taking/deletions.ts';
import type { Taking } from '../../taking/takeIn.ts';
import { giveClasses, makeAccount, renewToken } from '../accounts.ts';
import { makeCode } from '../enrolling.ts';
import {
  AuditQuerySchema,
  ClassIdsSchema,
  NewAccountSchema,
  NewClassSchema,
  NewEnrolmentSchema,
  PersonQuerySchema,
  RenamedSchema,
  type Account,
  type AuditEntry,
  type Class,
  type Enrolment,
  type Me,
  type NewToken,
  type Person,
  type Station,
} from '../peopleApi.ts';
import { notThere } from '../refused.ts';
import { readJson, readQuery, readUuid } from '../request.ts';
import { done, PEOPLE, route, TEACHERS, type Route } from '../route.ts';

/** Entries of the audit log on a page. */
const AUDIT_PAGE = 200;

const iso = (moment: Date | null): string | null => moment?.toISOString() ?? null;

/** Accounts and what they may ask. */
export const accountRoutes = (): Route[] => [
  route('GET', '/api/me', PEOPLE, async ({ c, who, name, seen }) => {
    const school = await seen((db) => db.selectFrom('schools').select('name').executeTakeFirstOrThrow());
    return c.json({ role: who.role, name, school: school.name } satisfies Me);
  }),
  route('GET', '/api/accounts', TEACHERS, async ({ c, seen }) => {
    const columns = ['id', 'role', 'name', 'person_id', 'made_at', 'revoked_at'] as const;
    const rows = await seen((db) => db.selectFrom('accounts').select(columns).orderBy('name').execute());
    const accounts = rows.map(({ id, role, name, person_id, made_at, revoked_at }) => {
      return { id, role, name, person: person_id, madeAt: made_at.toISOString(), revokedAt: iso(revoked_at) };
    });
    return c.json(accounts satisfies Account[]);
  }),
  route('POST', '/api/accounts', TEACHERS, async ({ c, who, seen }) => {
    const account = await readJson(c, NewAccountSchema);
    const made = await seen((db) => makeAccount(db, who.school, account));
    return c.json(made satisfies NewToken, 201);
  }),
  route('POST', '/api/accounts/:id/token', TEACHERS, async ({ c, seen }) => {
    const id = readUuid(c);
    return c.json((await seen((db) => renewToken(db, id))) satisfies NewToken);
  }),
  route('DELETE', '/api/accounts/:id', TEACHERS, async ({ c, seen }) => {
    const id = readUuid(c);
    const { numUpdatedRows } = await seen((db) =>
      db.updateTable('accounts').set({ revoked_at: new Date() }).where('id', '=', id).executeTakeFirst(),
    );
    if (numUpdatedRows === 0n) throw notThere('account');
    return done();
  }),
  route('PUT', '/api/accounts/:id/classes', ['school'], async ({ c, seen }) => {
    const id = readUuid(c);
    const { classes } = await readJson(c, ClassIdsSchema);
    await seen(async (db) => {
      const account = db.selectFrom('accounts').select('id').where('id', '=', id);
      if (!(await account.where('role', '=', 'instructor').executeTakeFirst())) throw notThere('instructor');
      await giveClasses(db, id, classes);
    });
    return done();
  }),
  route('GET', '/api/audit', ['school'], async ({ c, seen }) => {
    const { before } = readQuery(c, AuditQuerySchema);
    const rows = await seen((db) =>
      db
        .selectFrom('audit_log')
        .select(['id', 'at', 'who', 'did', 'what'])
        .$if(before !== undefined, (query) => query.where('id', '<', before ?? ''))
        .orderBy('id', 'desc')
        .limit(AUDIT_PAGE)
        .execute(),
    );
    const entries = rows.map((row) => ({ ...row, at: row.at.toISOString() }));
    return c.json(entries satisfies AuditEntry[]);
  }),
];

/** Classes, the people in them, and the stations they rehearse at. */
export const classRoutes = ({ archive, parts }: Taking): Route[] => [
  route('GET', '/api/classes', PEOPLE, async ({ c, seen }) => {
    const classes = await seen((db) =>
      db.selectFrom('classes').select(['id', 'name']).orderBy('name').execute(),
    );
    return c.json(classes satisfies Class[]);
  }),
  route('POST', '/api/classes', ['school'], async ({ c, who, seen }) => {
    const { name } = await readJson(c, NewClassSchema);
    const id = randomUUID();
    await seen((db) => db.insertInto('classes').values({ id, school_id: who.school, name }).execute());
    return c.json({ id, name } satisfies Class, 201);
  }),
  route('GET', '/api/people', PEOPLE, async ({ c, seen }) => {
    const { class: only } = readQuery(c, PersonQuerySchema);
    const rows = await seen((db) =>
      db
        .selectFrom('people')
        .select(['id', 'name', 'class_id as class'])
        .$if(only !== undefined, (query) => query.where('class_id', '=', only ?? ''))
        .orderBy('name')
        .execute(),
    );
    return c.json(rows satisfies Person[]);
  }),
  route('PUT', '/api/people/:id', TEACHERS, async ({ c, seen }) => {
    const id = readUuid(c);
    const { name } = await readJson(c, RenamedSchema);
    const { numUpdatedRows } = await seen((db) =>
      db.updateTable('people').set({ name }).where('id', '=', id).executeTakeFirst(),
    );
    if (numUpdatedRows === 0n) throw notThere('person');
    return done();
  }),
  route('DELETE', '/api/people/:id', TEACHERS, async ({ c, who }) => {
    const id = readUuid(c);
    await deleting(archive, parts, who, async (db) => {
      await note(db, who, 'DELETE /api/people/:id', c.req.path);
      const attempts = await db.selectFrom('attempts').select('id').where('person_id', '=', id).execute();
      const deleted = await deleteAttempts(
        db,
        attempts.map((attempt) => attempt.id),
      );
      const { numDeletedRows } = await db.deleteFrom('people').where('id', '=', id).executeTakeFirst();
      if (numDeletedRows === 0n) throw notThere('person');
      return deleted;
    });
    return done();
  }),
  route('POST', '/api/enrolments', TEACHERS, async ({ c, who, seen }) => {
    const { stationName } = await readJson(c, NewEnrolmentSchema);
    const made = await seen((db) => makeCode(db, who.school, stationName));
    return c.json(made satisfies Enrolment, 201);
  }),
  route('GET', '/api/stations', TEACHERS, async ({ c, seen }) => {
    const columns = ['id', 'name', 'enrolled_at', 'last_seen_at', 'revoked_at'] as const;
    const rows = await seen((db) => db.selectFrom('stations').select(columns).orderBy('name').execute());
    const stations = rows.map(({ id, name, enrolled_at, last_seen_at, revoked_at }) => ({
      id,
      name,
      enrolledAt: enrolled_at.toISOString(),
      lastSeenAt: iso(last_seen_at),
      revokedAt: iso(revoked_at),
    }));
    return c.json(stations satisfies Station[]);
  }),
  route('DELETE', '/api/stations/:id', TEACHERS, async ({ c, seen }) => {
    const id = readUuid(c);
    const { numUpdatedRows } = await seen((db) =>
      db.updateTable('stations').set({ revoked_at: new Date() }).where('id', '=', id).executeTakeFirst(),
    );
    if (numUpdatedRows === 0n) throw notThere('station');
    return done();
  }),
];
