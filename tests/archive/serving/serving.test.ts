import { readFile } from 'node:fs/promises';
import { connect } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { routesOf } from '../../../app/archive/serving/app.ts';
import {
  ContactSchema,
  EnrolledSchema,
  ProblemSchema,
  TakenSchema,
} from '../../../app/archive/serving/api.ts';
import { USUAL_LIMITS } from '../../../app/archive/serving/gate/limits.ts';
import {
  AccountSchema,
  AttemptPageSchema,
  AuditEntrySchema,
  EnrolmentSchema,
  NewTokenSchema,
  OneAttemptSchema,
  PersonSchema,
  StationSchema,
} from '../../../app/archive/serving/peopleApi.ts';
import { NotSafe, serveArchive, type ArchiveServer } from '../../../app/archive/serving/server.ts';
import type { Archive } from '../../../app/archive/store/connection.ts';
import { z } from 'zod';
import { DATABASES, type TestDatabases } from '../databases.ts';
import { attempt, bundleFile, person, record, startOf, uuid, verdict } from '../made.ts';
import { ANN, BEN, SAM, stationOf, twoSchools, type Someone, type TwoSchools } from '../twoSchools.ts';

/** By hand: who may ask what. Everybody else gets 403, and who has not signed in 401. */
const MAY_ASK: Readonly<Record<string, string>> = {
  'GET /api/station': 'station',
  'POST /api/station/bundles': 'station',
  'POST /api/station/gone': 'station',
  'GET /api/me': 'trainee instructor school',
  'GET /api/accounts': 'instructor school',
  'POST /api/accounts': 'instructor school',
  'POST /api/accounts/:id/token': 'instructor school',
  'DELETE /api/accounts/:id': 'instructor school',
  'PUT /api/accounts/:id/classes': 'school',
  'GET /api/audit': 'school',
  'GET /api/classes': 'trainee instructor school',
  'POST /api/classes': 'school',
  'GET /api/people': 'trainee instructor school',
  'PUT /api/people/:id': 'instructor school',
  'DELETE /api/people/:id': 'instructor school',
  'POST /api/enrolments': 'instructor school',
  'GET /api/stations': 'instructor school',
  'DELETE /api/stations/:id': 'instructor school',
  'GET /api/attempts': 'trainee instructor school',
  'GET /api/attempts/:id': 'trainee instructor school',
  'GET /api/attempts/:id/sound': 'trainee instructor school',
  'POST /api/attempts/:id/review': 'instructor school',
  'DELETE /api/attempts/:id': 'instructor school',
  'GET /api/views/choices': 'instructor school',
  'GET /api/views/classes/:id': 'instructor school',
  'GET /api/views/people/:id': 'instructor school',
  'GET /api/views/schools/:id': 'instructor school',
  'GET /api/views/across': 'instructor school',
};
const ROLES = ['trainee', 'instructor', 'school', 'station'] as const;

/** No test is to be slowed down, but for that of the limits. */
const WIDE = { atOnce: 100_000, perSecond: 100_000 };
const NO_LIMITS = { address: WIDE, token: WIDE, wrong: WIDE };

describe.each(DATABASES)('the archive served on $name', ({ start }) => {
  let databases: TestDatabases;
  let archive: Archive;
  let schools: TwoSchools;
  let server: ArchiveServer;
  const warnings: string[] = [];
  const warn = (message: string): void => void warnings.push(message);

  beforeAll(async () => {
    databases = await start();
    archive = await databases.open();
    schools = await twoSchools(archive);
    server = await serveArchive(schools, { port: 0, limits: NO_LIMITS, warn });
  });
  afterAll(async () => {
    await server.close();
    await databases.end();
    await schools.end();
    expect(warnings).toEqual([]);
  });

  const ask = (
    token: string | null,
    method: string,
    path: string,
    body?: unknown,
    url = server.url,
  ): Promise<Response> => {
    const isBytes = body instanceof Uint8Array;
    return fetch(new URL(path, url), {
      method,
      headers: {
        ...(token !== null && { authorization: `Bearer ${token}` }),
        ...(body !== undefined && { 'content-type': isBytes ? 'application/zip' : 'application/json' }),
      },
      ...(body !== undefined && { body: isBytes ? new Uint8Array(body) : JSON.stringify(body) }),
    });
  };
  const read = async <T>(schema: z.ZodType<T>, who: Someone, path: string): Promise<T> =>
    schema.parse(await (await ask(who.token, 'GET', path)).json());
  const statusOf = async (who: Someone, method: string, path: string, body?: unknown): Promise<number> =>
    (await ask(who.token, method, path, body)).status;

  it('is said here of everything that can be asked', () => {
    const there = routesOf(schools).map(({ method, path }) => `${method} ${path}`);
    expect(there.sort()).toEqual(Object.keys(MAY_ASK).sort());
  });

  it.each(Object.entries(MAY_ASK))('%s: only for %s', async (what, may) => {
    const [method = '', pattern = ''] = what.split(' ');
    // Nobody has this id, so nothing is changed; what is asked for is checked before what is sent.
    const path = pattern.replace(':id', pattern.includes('/attempts') ? '9999999' : uuid(999));
    const found: Record<string, number> = {};
    for (const role of ROLES) found[role] = await statusOf(schools[role], method, path);
    for (const role of ROLES)
      if (may.split(' ').includes(role)) expect([200, 204, 400, 404, 415, 422], role).toContain(found[role]);
      else expect(found[role], role).toBe(403);
    for (const token of [null, 'x', 'x'.repeat(43), schools.trainee.token.slice(0, -1)]) {
      const { status } = await ask(token, method, path);
      expect(status, `${token}`).toBe(401);
    }
  });

  it('shows each only what is theirs, and of what is not theirs not even whether it is there', async () => {
    const { trainee, instructor, school, attempts } = schools;
    const shown = async (who: Someone): Promise<string[]> =>
      (await read(AttemptPageSchema, who, '/api/attempts')).attempts.map(({ id }) => id).sort();
    expect(await shown(trainee)).toEqual([attempts.ann]);
    expect(await shown(instructor)).toEqual([attempts.ann]);
    expect(await shown(school)).toEqual([attempts.ann, attempts.ben, attempts.cleo].sort());
    expect(await shown(schools.others.school)).toEqual([attempts.sam]);
    for (const [who, hidden] of [
      [trainee, [attempts.ben, attempts.cleo, attempts.sam]],
      [instructor, [attempts.ben, attempts.cleo, attempts.sam]],
      [school, [attempts.sam]],
    ] as const)
      for (const id of hidden)
        for (const path of [`/api/attempts/${id}`, `/api/attempts/${id}/sound`])
          expect(await statusOf(who, 'GET', path)).toBe(404);
    const names = async (who: Someone): Promise<string[]> =>
      (await read(z.array(PersonSchema), who, '/api/people')).map(({ name }) => name);
    expect(await names(trainee)).toEqual(['Ann']);
    expect(await names(instructor)).toEqual(['Ann']);
    expect(await names(school)).toEqual(['Ann', 'Ben', 'Cleo']);
  });

  it('changes nothing that is another’s', async () => {
    const { instructor, school, attempts } = schools;
    const review = { events: [verdict('soap', 'no')] };
    for (const [who, id] of [
      [instructor, attempts.ben],
      [school, attempts.sam],
    ] as const) {
      expect(await statusOf(who, 'POST', `/api/attempts/${id}/review`, review)).toBe(404);
      expect(await statusOf(who, 'DELETE', `/api/attempts/${id}`)).toBe(404);
    }
    for (const [who, { id }] of [
      [instructor, BEN],
      [school, SAM],
    ] as const) {
      expect(await statusOf(who, 'PUT', `/api/people/${id}`, { name: 'Changed' })).toBe(404);
      expect(await statusOf(who, 'DELETE', `/api/people/${id}`)).toBe(404);
    }
    const other = stationOf(schools.others.station).station;
    expect(await statusOf(school, 'DELETE', `/api/stations/${other}`)).toBe(404);
    const grown = [
      { role: 'school', name: 'Me too' },
      { role: 'trainee', name: 'Ben', person: BEN.id },
    ];
    for (const account of grown)
      expect(await statusOf(instructor, 'POST', '/api/accounts', account)).toBe(403);
    expect(
      await statusOf(school, 'POST', '/api/accounts', { role: 'trainee', name: 'Sam', person: SAM.id }),
    ).toBe(403);
    expect((await read(AttemptPageSchema, schools.others.school, '/api/attempts')).attempts).toHaveLength(1);
  });

  it('gives an attempt with its journal and sound for review, without the review to the trainee', async () => {
    const { trainee, instructor, attempts } = schools;
    const one = await read(OneAttemptSchema, instructor, `/api/attempts/${attempts.ann}`);
    expect(one).toMatchObject({ skill: 'hand-washing', hasSound: true, record: record(1) });
    expect(one.journal).toContain('"reviewed"');
    expect(one.caution).toMatch(/heard is not seen/);
    const own = await read(OneAttemptSchema, trainee, `/api/attempts/${attempts.ann}`);
    expect(own.journal).not.toContain('"reviewed"');
    expect(one.journal.startsWith(own.journal)).toBe(true);
    const sound = await ask(trainee.token, 'GET', `/api/attempts/${attempts.ann}/sound`);
    expect([sound.headers.get('content-type'), await sound.text()]).toEqual(['audio/flac', 'sound of Ann']);
  });

  it('adds a review to the journal, in the name of the account that sends it', async () => {
    const { instructor, attempts } = schools;
    const path = `/api/attempts/${attempts.ann}`;
    const events = [
      { ...verdict('soap', 'no', 5), by: 'Somebody else' },
      { type: 'signed off', by: 'Somebody else', madeAt: '2026-11-30T10:00:00.000Z', skill: 0 },
    ];
    expect(await statusOf(instructor, 'POST', `${path}/review`, { events })).toBe(204);
    const { journal, signedOff } = await read(OneAttemptSchema, instructor, path);
    expect(journal.match(/"by":"Ina"/g)).toHaveLength(2);
    expect(journal).not.toContain('Somebody else');
    expect(signedOff).toBe(true);
    const reviews = await archive.as(instructor.who, (db) =>
      db
        .selectFrom('reviews')
        .innerJoin('steps', 'id', 'step_id')
        .select(['step', 'verdict', 'by'])
        .orderBy('step')
        .execute(),
    );
    expect(reviews).toEqual([
      { step: 'soap', verdict: false, by: 'Ina' },
      { step: 'wet', verdict: true, by: 'R. Ortega' },
    ]);
    expect(await statusOf(instructor, 'POST', `${path}/review`, { events: [{ type: 'ended', at: 1 }] })).toBe(
      400,
    );
  });

  it('enrols a station by a code that works once, and not at all when it ended', async () => {
    const made = await ask(schools.instructor.token, 'POST', '/api/enrolments', { stationName: 'Sink 9' });
    const { code, endsAt } = EnrolmentSchema.parse(await made.json());
    expect(Date.parse(endsAt) - Date.now()).toBeGreaterThan(23 * 3_600_000);
    const tries = await Promise.all(
      Array.from({ length: 5 }, () => ask(null, 'POST', '/api/enrol', { code })),
    );
    expect(tries.map(({ status }) => status).sort()).toEqual([201, 403, 403, 403, 403]);
    const enrolled = EnrolledSchema.parse(await tries.find(({ status }) => status === 201)?.json());
    expect(enrolled).toMatchObject({ station: { name: 'Sink 9' }, school: 'North' });
    const contact = await ask(enrolled.key, 'GET', '/api/station');
    expect(ContactSchema.parse(await contact.json())).toEqual({
      station: 'Sink 9',
      school: 'North',
      deletions: [],
    });
    const late = EnrolmentSchema.parse(
      await (await ask(schools.school.token, 'POST', '/api/enrolments', { stationName: 'Late' })).json(),
    );
    await archive.as({ role: 'keeper' }, (db) =>
      db
        .updateTable('enrolments')
        .set({ ends_at: new Date(0) })
        .where('station_name', '=', 'Late')
        .execute(),
    );
    expect((await ask(null, 'POST', '/api/enrol', { code: late.code })).status).toBe(403);
    expect((await ask(null, 'POST', '/api/enrol', { code: 'GUESSED' })).status).toBe(403);
    const stations = await read(z.array(StationSchema), schools.school, '/api/stations');
    const { id = '' } = stations.find(({ name }) => name === 'Sink 9') ?? {};
    expect(await statusOf(schools.instructor, 'DELETE', `/api/stations/${id}`)).toBe(204);
    expect((await ask(enrolled.key, 'GET', '/api/station')).status).toBe(401);
  });

  it('takes bundles, refuses damaged and too large ones, and tells of deletions', async () => {
    const fay = person(41, 'Fay', 'Monday');
    const file = await readFile(await bundleFile(schools.folder, [attempt(5000, fay), attempt(5001, fay)]));
    const post = (body: Uint8Array) => ask(schools.station.token, 'POST', '/api/station/bundles', body);
    const taken = TakenSchema.parse(await (await post(file)).json());
    expect(taken).toEqual({ taken: [record(5000), record(5001)], already: [], replaced: [], refused: [] });
    expect(TakenSchema.parse(await (await post(file)).json()).already).toHaveLength(2);
    for (const broken of [
      file.subarray(0, file.length / 2),
      Buffer.from('no bundle at all'),
      Buffer.alloc(0),
    ]) {
      const response = await post(broken);
      expect(response.status).toBe(422);
      expect(ProblemSchema.parse(await response.json()).advice).toMatch(/Nothing of it was taken/);
    }
    // The monday instructor sees Fay's from now on, and deletes one.
    const { attempts } = await read(AttemptPageSchema, schools.instructor, `/api/attempts?person=${fay.id}`);
    expect(await statusOf(schools.instructor, 'DELETE', `/api/attempts/${attempts[0]?.id}`)).toBe(204);
    const contact = ContactSchema.parse(
      await (await ask(schools.station.token, 'GET', '/api/station')).json(),
    );
    expect(contact.deletions.map((each) => each.record)).toEqual([record(5001)]);
    const records = [{ record: record(5001), at: startOf(6000) }];
    expect(await statusOf(schools.station, 'POST', '/api/station/gone', { records })).toBe(204);
    const after = ContactSchema.parse(await (await ask(schools.station.token, 'GET', '/api/station')).json());
    expect(after.deletions).toEqual([]);
    // A person goes with everything.
    expect(await statusOf(schools.school, 'DELETE', `/api/people/${fay.id}`)).toBe(204);
    const left = await read(AttemptPageSchema, schools.school, `/api/attempts?person=${fay.id}`);
    expect(left.attempts).toEqual([]);
  });

  it('refuses a body that says it is too large before it comes', async () => {
    const { port } = server;
    const answer = await new Promise<string>((done, failed) => {
      const socket = connect(port, '127.0.0.1', () =>
        socket.write(
          `POST /api/station/bundles HTTP/1.1\r\nhost: x\r\nauthorization: Bearer ${schools.station.token}\r\ncontent-length: 99999999999\r\n\r\n`,
        ),
      );
      socket.once('data', (data) => {
        done(data.toString());
        socket.destroy();
      });
      socket.once('error', failed);
    });
    expect(answer).toMatch(/^HTTP\/1\.1 413 /);
    const big = { stationName: 'x'.repeat(2 << 20) };
    expect(await statusOf(schools.school, 'POST', '/api/enrolments', big)).toBe(413);
  });

  it('pages through attempts, the newest first, none twice and none left out', async () => {
    const gus = person(42, 'Gus', 'Monday');
    const seconds = [7000, 7001, 7002, 7003, 7004];
    const file = await bundleFile(
      schools.folder,
      seconds.map((second) => attempt(second, gus)),
    );
    await ask(schools.station.token, 'POST', '/api/station/bundles', await readFile(file));
    const found: string[] = [];
    let path: string | null = `/api/attempts?person=${gus.id}&limit=2`;
    while (path !== null) {
      const page: z.infer<typeof AttemptPageSchema> = await read(AttemptPageSchema, schools.instructor, path);
      found.push(...page.attempts.map(({ startedAt }) => startedAt));
      path =
        page.next === null
          ? null
          : `/api/attempts?person=${gus.id}&limit=2&after=${encodeURIComponent(page.next)}`;
    }
    expect(found).toEqual(seconds.map(startOf).reverse());
    const some = await read(
      AttemptPageSchema,
      schools.school,
      `/api/attempts?person=${gus.id}&from=${startOf(7001)}&to=${startOf(7003)}&skill=hand-washing`,
    );
    expect(some.attempts.map(({ startedAt }) => startedAt)).toEqual([startOf(7002), startOf(7001)]);
    expect(await statusOf(schools.school, 'GET', '/api/attempts?limit=9999')).toBe(400);
  });

  it('makes accounts, whose token ends when it is made anew or revoked', async () => {
    const made = await ask(schools.instructor.token, 'POST', '/api/accounts', {
      role: 'trainee',
      name: 'Ann again',
      person: ANN.id,
    });
    // A person has one account.
    expect(made.status).toBe(409);
    const accounts = await read(z.array(AccountSchema), schools.instructor, '/api/accounts');
    const ann = accounts.find(({ person: of }) => of === ANN.id);
    expect(accounts.map(({ name }) => name)).toEqual(['Ann', 'Ina']);
    const renewed = await ask(schools.instructor.token, 'POST', `/api/accounts/${ann?.id}/token`);
    const { token } = NewTokenSchema.parse(await renewed.json());
    expect((await ask(schools.trainee.token, 'GET', '/api/me')).status).toBe(401);
    expect(await (await ask(token, 'GET', '/api/me')).json()).toEqual({
      role: 'trainee',
      name: 'Ann',
      school: 'North',
    });
    expect(await statusOf(schools.instructor, 'DELETE', `/api/accounts/${ann?.id}`)).toBe(204);
    expect((await ask(token, 'GET', '/api/me')).status).toBe(401);
  });

  it('writes down who read and changed what, and what they were refused; only their school reads it', async () => {
    await ask(schools.instructor.token, 'GET', '/api/attempts?limit=1');
    await ask(schools.instructor.token, 'GET', '/api/audit');
    const entries = await read(z.array(AuditEntrySchema), schools.school, '/api/audit');
    const ofIna = entries.filter(({ who }) => who.startsWith('instructor'));
    expect(ofIna[0]).toMatchObject({ did: 'refused: GET /api/audit', what: '/api/audit' });
    expect(ofIna[1]).toMatchObject({ did: 'GET /api/attempts', what: '/api/attempts' });
    const theirs = await read(z.array(AuditEntrySchema), schools.others.school, '/api/audit');
    expect(theirs.filter(({ id }) => entries.some((entry) => entry.id === id))).toEqual([]);
    expect(JSON.stringify(entries)).not.toContain(schools.instructor.token);
  });

  it('answers everything with headers that keep its page to itself', async () => {
    for (const path of ['/api/me', '/nowhere', '/api/attempts/x']) {
      const response = await ask(null, 'GET', path);
      expect(response.headers.get('content-security-policy')).toMatch(
        /default-src 'none'.*frame-ancestors 'none'/,
      );
      expect(response.headers.get('x-content-type-options')).toBe('nosniff');
      expect(response.headers.get('access-control-allow-origin')).toBeNull();
      ProblemSchema.parse(await response.json());
    }
    expect((await ask(null, 'PATCH', '/api/me')).status).toBe(405);
  });

  it('slows down who asks too much or guesses, and nobody else', async () => {
    const few = await serveArchive(schools, {
      port: 0,
      warn,
      isBehindProxy: true,
      limits: {
        ...USUAL_LIMITS,
        token: { atOnce: 3, perSecond: 0.01 },
        wrong: { atOnce: 2, perSecond: 0.01 },
      },
    });
    const from = (address: string, token: string): Promise<Response> =>
      fetch(new URL('/api/me', few.url), {
        headers: { authorization: `Bearer ${token}`, 'x-forwarded-for': `1.2.3.4, ${address}` },
      });
    const statuses = async (address: string, tokens: readonly string[]): Promise<number[]> => {
      const found = [];
      for (const token of tokens) found.push((await from(address, token)).status);
      return found;
    };
    const { school } = schools;
    expect(await statuses('10.0.0.1', new Array<string>(4).fill(school.token))).toEqual([200, 200, 200, 429]);
    const wrong = 'w'.repeat(43);
    expect(await statuses('10.0.0.2', [wrong, wrong, wrong])).toEqual([401, 401, 429]);
    // Also with a true token: or one could guess on. Somebody elsewhere is not slowed down.
    const { token } = schools.others.school;
    expect(await statuses('10.0.0.2', [token])).toEqual([429]);
    expect(await statuses('10.0.0.3', [token])).toEqual([200]);
    const told = await from('10.0.0.2', wrong);
    expect(Number(told.headers.get('retry-after'))).toBeGreaterThan(0);
    expect(told.headers.get('strict-transport-security')).toMatch(/max-age/);
    await few.close();
  });

  it('is not served to other machines without TLS, nor before a school’s account is there', async () => {
    await expect(serveArchive(schools, { host: '0.0.0.0', port: 0, warn })).rejects.toThrow(/certificate/);
    const empty = await databases.open();
    const taking = { ...schools, archive: empty };
    for (const open of [{ isBehindProxy: true }, { host: '0.0.0.0', tls: { cert: '', key: '' } }])
      await expect(serveArchive(taking, { port: 0, warn, ...open })).rejects.toThrow(NotSafe);
  });
});
