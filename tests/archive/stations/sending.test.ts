import { mkdtemp, rm, utimes } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { FileParts } from '../../../app/archive/parts/fileParts.ts';
import {
  AttemptPageSchema,
  EnrolmentSchema,
  OneAttemptSchema,
  StationSchema,
} from '../../../app/archive/serving/peopleApi.ts';
import { serveArchive, type ArchiveServer } from '../../../app/archive/serving/server.ts';
import { keepProgramSkills } from '../../../app/archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../../app/archive/taking/schoolLibrary.ts';
import { addAccount } from '../../../app/cli/archive/account.ts';
import {
  ArchiveReplySchema,
  CreatedSchema,
  PeopleSchema,
  ProblemSchema,
  RehearsalsSchema,
  TraineeSchema,
  WRITER_HEADER,
} from '../../../app/host/api.ts';
import { startHost, type Host } from '../../../app/host/server.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { SkillFolder } from '../../../app/library/skillFolder.ts';
import { DATABASES, PATIENTLY, type TestDatabases } from '../databases.ts';

const SCHOOL = 'School of the Hill';

let root = '';
let databases: TestDatabases;
let archive: ArchiveServer;
let host: Host;
/** The token of the school's account. */
let token = '';

beforeAll(async () => {
  root = await mkdtemp(path.join(tmpdir(), 'sinkside-sending-'));
  databases = await DATABASES[1]!.start(); // both kinds are there; what is tested here is the station
  const store = await databases.open();
  const library = await openLibrary();
  await keepProgramSkills(store, library);
  const parts = new FileParts(path.join(root, 'parts'));
  const taking = { archive: store, parts, libraries: new SchoolLibraries(library) };
  archive = await serveArchive(taking, { port: 0, warn: (message) => expect.fail(message) });
  token = await addAccount(store, SCHOOL, [], { role: 'school', name: 'Ms. Head' });
  const data = path.join(root, 'data');
  const skills = await SkillFolder.open(data);
  host = await startHost({
    data,
    skills,
    renderer: path.join(root, 'none'),
    port: 0,
    warn: (message) => expect.fail(message),
  });
}, PATIENTLY);
afterAll(async () => {
  await host.close();
  await archive.close();
  await databases.end();
  await rm(root, { recursive: true, force: true });
}, PATIENTLY);

type Asked = readonly [method: string, where: string, body?: unknown, headers?: Record<string, string>];

const ask = (base: string, [method, where, body, headers = {}]: Asked): Promise<Response> =>
  fetch(new URL(where, base), {
    method,
    headers: { ...headers, ...(body !== undefined && { 'content-type': 'application/json' }) },
    ...(body !== undefined && { body: JSON.stringify(body) }),
  });
const station = (...asked: Asked): Promise<Response> => ask(host.url, asked);
const school = (method: string, where: string, body?: unknown): Promise<Response> =>
  ask(archive.url, [method, where, body, { authorization: `Bearer ${token}` }]);
async function read<S extends z.ZodType>(schema: S, asked: Promise<Response>): Promise<z.output<S>> {
  const response = await asked;
  expect(response.ok, response.url).toBe(true);
  return schema.parse(await response.json());
}
const newCode = async (): Promise<string> =>
  (await read(EnrolmentSchema, school('POST', '/api/enrolments', { stationName: 'Sink 4' }))).code;
const standing = () => read(ArchiveReplySchema, station('GET', '/api/archive'));
const attempts = async () => (await read(AttemptPageSchema, school('GET', '/api/attempts'))).attempts;

/** A rehearsal of a trainee, which was over long ago. */
async function rehearsed(trainee: string | null): Promise<string> {
  const begun = {
    skill: 'hand-washing',
    variants: { tap: 'lever' },
    style: 'coach',
    engine: 'made/narrated',
    trainee,
  };
  const startedAt = new Date(Date.now() + 1000).toISOString();
  const { id, writer } = await read(
    CreatedSchema,
    station('POST', '/api/rehearsals', { ...begun, startedAt }),
  );
  const evidence = { utterance: 0, text: 'good morning', start: 1, end: 2, score: 1 };
  const events = [
    { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } },
    { type: 'credited', step: 'greet', evidence },
    { type: 'ended', at: 3 },
  ];
  const added = await station(
    'POST',
    `/api/rehearsals/${id}/events`,
    { from: 0, events },
    { [WRITER_HEADER]: writer },
  );
  expect(added.status).toBe(200);
  await leftAlone(id);
  return id;
}

/** Its files were written two minutes ago. */
async function leftAlone(id: string): Promise<void> {
  const then = Date.now() / 1000 - 120;
  for (const name of ['journal.jsonl', 'sound.wav', 'sound.flac'])
    await utimes(path.join(root, 'data', 'rehearsals', id, name), then, then).catch(() => undefined);
}

describe('a station and its archive', () => {
  it('find each other by a code that works once, send what was agreed to, and delete on both sides', async () => {
    const { id: kim } = await read(
      TraineeSchema,
      station('POST', '/api/people', { name: 'Kim Quillfeather', class: 'Spring' }),
    );
    const { id: lee } = await read(TraineeSchema, station('POST', '/api/people', { name: 'L. O.' }));
    expect(await standing()).toBeNull();
    expect((await read(PeopleSchema, station('GET', '/api/people'))).school).toBeNull();

    const code = await newCode();
    expect((await station('POST', '/api/archive/enrol', { address: archive.url, code })).status).toBe(204);
    const again = await station('POST', '/api/archive/enrol', { address: archive.url, code });
    expect(again.status).toBe(502);
    expect(ProblemSchema.parse(await again.json()).advice).toMatch(/new code/);
    expect((await read(PeopleSchema, station('GET', '/api/people'))).school).toBe(SCHOOL);
    expect(await standing()).toMatchObject({ school: SCHOOL, station: 'Sink 4', isOn: true, sent: 0 });

    await station('PUT', `/api/people/${kim}/consent`, { agreed: true, sends: true });
    await station('PUT', `/api/people/${lee}/consent`, { agreed: true, sends: false });
    const [first, second] = [await rehearsed(kim), await rehearsed(kim)];
    const [others] = [await rehearsed(lee), await rehearsed(null)];
    expect((await station('POST', '/api/archive/now')).status).toBe(204);
    expect(await standing()).toMatchObject({ waiting: 0, sent: 2, staying: 2, refused: [], trouble: null });
    const there = await attempts();
    expect(there).toHaveLength(2);
    expect(there.map(({ person }) => person)).toEqual([kim, kim]);

    const review = { type: 'reviewed', by: 'Mr. R', madeAt: '2026-12-01T10:00:00Z', skill: 0, step: 'greet' };
    const events = [{ ...review, verdict: 'yes', reason: '', heardAt: 1.5, blind: false }];
    expect((await station('POST', `/api/rehearsals/${first}/review`, { events })).status).toBe(200);
    await leftAlone(first);
    await station('POST', '/api/archive/now');
    const rows = await attempts();
    expect(rows).toHaveLength(2);
    const read2 = await Promise.all(
      rows.map(({ id }) => read(OneAttemptSchema, school('GET', `/api/attempts/${id}`))),
    );
    expect(read2.find(({ record }) => record === first)?.journal).toMatch(/"reviewed"/);

    const row = read2.find(({ record }) => record === second);
    expect((await school('DELETE', `/api/attempts/${row?.id}`)).ok).toBe(true);
    await station('POST', '/api/archive/now');
    const left = await read(RehearsalsSchema, station('GET', '/api/rehearsals'));
    expect(left.map(({ id }) => id)).not.toContain(second);
    expect(left.map(({ id }) => id)).toContain(others);

    expect((await station('DELETE', `/api/rehearsals/${first}`)).status).toBe(204);
    await station('POST', '/api/archive/now');
    expect(await attempts()).toEqual([]);
    expect(await standing()).toMatchObject({ waiting: 0, sent: 0 });
  });

  it('part when the school revokes the station, or the station leaves', async () => {
    const stations = await read(z.array(StationSchema), school('GET', '/api/stations'));
    for (const { id } of stations) expect((await school('DELETE', `/api/stations/${id}`)).ok).toBe(true);
    const refused = await station('POST', '/api/archive/now');
    expect(ProblemSchema.parse(await refused.json()).advice).toMatch(/new code/);
    expect(await standing()).toMatchObject({ revoked: expect.any(String), nextAt: null });
    const code = await newCode();
    expect((await station('POST', '/api/archive/enrol', { address: archive.url, code })).status).toBe(204);
    expect(await standing()).toMatchObject({ revoked: null });
    expect((await station('DELETE', '/api/archive')).status).toBe(204);
    expect(await standing()).toBeNull();
  });
});
