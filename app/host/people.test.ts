import { cp, mkdir, mkdtemp, readdir, readFile, rm, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { z } from 'zod';
import { SkillFolder } from '../library/skillFolder.ts';
import type { RehearsalEvent, ReviewEvent } from '../marking/events.ts';
import { BenchReadings } from '../people/benchReadings.ts';
import { PeopleFile } from '../people/peopleFile.ts';
import { Rehearsals } from '../records/rehearsals.ts';
import {
  AttemptsReplySchema,
  CreatedSchema,
  INSTRUCTOR_HEADER,
  NewSessionSchema,
  PeopleSchema,
  ReadingsReplySchema,
  RehearsalSchema,
  RehearsalsSchema,
  TRAINEE_HEADER,
  TraineeSchema,
  WRITER_HEADER,
  type Trainee,
} from './api.ts';
import { deleteOld } from './people/keeping.ts';
import { startHost, type Host } from './server.ts';

const PASSPHRASE = 'seven pale lemons';
const SAID = 'good morning Mrs. Quillfeather';
const EVENTS: RehearsalEvent[] = [
  { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } },
  { type: 'credited', step: 'greet', evidence: { utterance: 0, text: SAID, start: 1, end: 2, score: 1 } },
  { type: 'ended', at: 3 },
];
const COMMENT: ReviewEvent = {
  type: 'commented',
  by: 'Ms. Instructor',
  madeAt: '2026-02-01T10:00:00Z',
  at: 1,
  text: 'Speak up.',
};
const SOUND = new Uint8Array(3200).fill(7);

let data = '';
let skills: SkillFolder;
let host: Host;
let kim: Trainee;
let lee: Trainee;

beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-people-'));
  skills = await SkillFolder.open(data);
  await start();
  kim = await enter('Kim Quillfeather', 'Spring');
  lee = await enter('L. O.', 'Spring');
});
afterEach(async () => {
  await host.close();
  await rm(data, { recursive: true });
});

async function start(): Promise<void> {
  const renderer = path.join(data, 'none');
  host = await startHost({ data, skills, renderer, port: 0, warn: (message) => expect.fail(message) });
}

type Headers = Record<string, string>;
const NOBODY: Headers = {};
const as = (trainee: { id: string }): Headers => ({ [TRAINEE_HEADER]: trainee.id });
const instructor = (token: string): Headers => ({ [INSTRUCTOR_HEADER]: token });

function ask(method: string, where: string, headers: Headers = NOBODY, body?: unknown): Promise<Response> {
  if (body instanceof Uint8Array)
    return fetch(new URL(where, host.url), { method, headers, body: Uint8Array.from(body) });
  const json = body === undefined ? {} : { body: JSON.stringify(body) };
  return fetch(new URL(where, host.url), {
    method,
    headers: { ...headers, 'content-type': 'application/json' },
    ...json,
  });
}
const reading = (recorded: number, takenAt = '2026-02-01T10:00:00.000Z') => ({
  name: 'Respirations',
  unit: 'breaths a minute',
  recorded,
  truth: 16,
  stretch: { from: 0, to: 60 },
  takenAt,
});
/** A trainee reads something at the bench. */
async function take(trainee: Trainee, recorded: number, takenAt?: string): Promise<void> {
  const body = { readings: [reading(recorded, takenAt)] };
  expect(await status(ask('POST', '/api/readings', as(trainee), body))).toBe(204);
}
async function answer<S extends z.ZodType>(schema: S, asked: Promise<Response>): Promise<z.output<S>> {
  const response = await asked;
  expect(response.ok, await response.clone().text()).toBe(true);
  return schema.parse(await response.json());
}
const status = async (asked: Promise<Response>): Promise<number> => (await asked).status;
const enter = (name: string, group: string): Promise<Trainee> =>
  answer(TraineeSchema, ask('POST', '/api/people', NOBODY, { name, class: group }));
const setPassphrase = async (): Promise<string> =>
  (
    await answer(
      NewSessionSchema,
      ask('PUT', '/api/instructor/passphrase', NOBODY, { passphrase: PASSPHRASE }),
    )
  ).token;
const decide = (trainee: Trainee, agreed: boolean): Promise<number> =>
  status(ask('PUT', `/api/people/${trainee.id}/consent`, as(trainee), { agreed }));

/** Rehearses, and gives the id and what became of the sound. */
async function rehearse(
  trainee: Trainee | null,
  startedAt = '2026-01-31T09:30:00Z',
): Promise<{ id: string; writer: Headers; sound: number }> {
  const begun = {
    skill: 'hand-washing',
    variants: {},
    style: 'silent',
    engine: 'test',
    startedAt,
    trainee: trainee?.id ?? null,
  };
  const { id, writer } = await answer(CreatedSchema, ask('POST', '/api/rehearsals', NOBODY, begun));
  const headers = { [WRITER_HEADER]: writer };
  await ask('POST', `/api/rehearsals/${id}/events`, headers, { from: 0, events: EVENTS });
  const sound = await status(ask('POST', `/api/rehearsals/${id}/sound?from=0`, headers, SOUND));
  return { id, writer: headers, sound };
}
const listed = async (headers: Headers): Promise<string[]> =>
  (await answer(RehearsalsSchema, ask('GET', '/api/rehearsals', headers))).map(({ id }) => id).sort();

/** All that lies in the data folder, names and contents. */
async function everything(): Promise<string> {
  const files = await readdir(data, { recursive: true, withFileTypes: true });
  const texts = files.map(async (file) => {
    const where = path.join(file.parentPath, file.name);
    return file.isFile() ? `${where}\n${await readFile(where, 'latin1')}` : where;
  });
  return (await Promise.all(texts)).join('\n');
}

describe('who sees what', () => {
  let ids: { kim: string; lee: string; nobody: string };
  beforeEach(async () => {
    await Promise.all([decide(kim, true), decide(lee, true)]);
    ids = {
      kim: (await rehearse(kim)).id,
      lee: (await rehearse(lee)).id,
      nobody: (await rehearse(null)).id,
    };
    expect(
      await status(ask('POST', `/api/rehearsals/${ids.kim}/review`, NOBODY, { events: [COMMENT] })),
    ).toBe(200);
  });

  it('everybody sees everything while no passphrase is set', async () => {
    expect(await listed(NOBODY)).toEqual(Object.values(ids).sort());
    const people = await answer(PeopleSchema, ask('GET', '/api/people', as(kim)));
    expect(people).toMatchObject({ chosen: kim.id, isInstructor: true, hasPassphrase: false });
  });

  it('a trainee sees their own and those of nobody, and the instructor all', async () => {
    const token = await setPassphrase();
    expect(await listed(as(kim))).toEqual([ids.kim, ids.nobody].sort());
    expect(await listed(NOBODY)).toEqual([ids.nobody]);
    expect(await listed({ [TRAINEE_HEADER]: 'unknown' })).toEqual([ids.nobody]);
    expect(await listed(instructor(token))).toEqual(Object.values(ids).sort());
    expect(await listed(instructor('made up'))).toEqual([ids.nobody]);
  });

  it.each([
    ['GET', '', undefined],
    ['GET', '/sound', undefined],
    ['DELETE', '', undefined],
    ['POST', '/writer', undefined],
    ['POST', '/copy', { events: 0, samples: 0 }],
  ])("and another's is as if it were not there: %s %s", async (method, what, body) => {
    const token = await setPassphrase();
    const at = `/api/rehearsals/${ids.lee}${what}`;
    expect(await status(ask(method, at, as(kim), body))).toBe(404);
    expect(await status(ask(method, at, NOBODY, body))).toBe(404);
    expect(await listed(instructor(token))).toContain(ids.lee);
    expect(await status(ask(method, at, as(lee), body))).toBeLessThan(300);
  });

  it('so are the attempts at a skill, and agreement is for the instructor', async () => {
    const token = await setPassphrase();
    const attempts = async (headers: Headers): Promise<(string | null)[]> =>
      (await answer(AttemptsReplySchema, ask('GET', '/api/attempts/hand-washing', headers))).map(
        ({ trainee }) => trainee,
      );
    expect(new Set(await attempts(as(kim)))).toEqual(new Set([kim.id, null]));
    expect(new Set(await attempts(instructor(token)))).toEqual(new Set([kim.id, lee.id, null]));
    expect(await status(ask('GET', '/api/agreement', as(kim)))).toBe(403);
    expect(await status(ask('GET', '/api/agreement', instructor(token)))).toBe(200);
  });

  it('so are readings, which are kept with the person chosen', async () => {
    await take(kim, 16);
    await take(kim, 17);
    await take(lee, 12);
    expect(await status(ask('POST', '/api/readings', NOBODY, { readings: [reading(16)] }))).toBe(400);
    const token = await setPassphrase();
    const read = async (headers: Headers) =>
      (await answer(ReadingsReplySchema, ask('GET', '/api/readings', headers)))
        .filter(({ readings }) => readings.length > 0)
        .map(({ trainee, readings }) => [trainee, readings.map(({ recorded }) => recorded)]);
    expect(await read(as(kim))).toEqual([[kim.id, [16, 17]]]);
    expect(await read(instructor(token))).toEqual([
      [kim.id, [16, 17]],
      [lee.id, [12]],
    ]);
  });

  it('an audio element is known by the query, and the token is not told on', async () => {
    const token = await setPassphrase();
    const at = `/api/rehearsals/${ids.lee}/sound?${INSTRUCTOR_HEADER}=`;
    expect(await status(ask('GET', at + token))).toBe(200);
    const refused = await ask('GET', at + 'some-other-token');
    expect(refused.status).toBe(404);
    expect(await refused.text()).not.toContain('some-other-token');
  });

  it('only the instructor reads and adds reviews', async () => {
    const token = await setPassphrase();
    const read = async (headers: Headers) =>
      (await answer(RehearsalSchema, ask('GET', `/api/rehearsals/${ids.kim}`, headers))).events;
    expect(await read(as(kim))).toEqual(EVENTS);
    expect(await read(instructor(token))).toEqual([...EVENTS, COMMENT]);
    const review = { events: [COMMENT] };
    expect(await status(ask('POST', `/api/rehearsals/${ids.kim}/review`, as(kim), review))).toBe(403);
    const { id, writer } = await rehearse(kim, '2026-02-02T09:30:00Z');
    const events = { from: EVENTS.length, events: [COMMENT] };
    expect(await status(ask('POST', `/api/rehearsals/${id}/events`, { ...writer, ...as(kim) }, events))).toBe(
      403,
    );
    expect(await status(ask('POST', `/api/rehearsals/${ids.kim}/review`, instructor(token), review))).toBe(
      200,
    );
  });

  it('what lost its header is for the instructor alone', async () => {
    const token = await setPassphrase();
    const journal = path.join(data, 'rehearsals', ids.kim, 'journal.jsonl');
    await writeFile(journal, (await readFile(journal, 'utf8')).replace('{', '['));
    expect(await listed(as(kim))).toEqual([ids.nobody]);
    expect(await status(ask('GET', `/api/rehearsals/${ids.kim}`, as(kim)))).toBe(404);
    expect(await listed(instructor(token))).toContain(ids.kim);
  });

  it.each([
    ['PUT', '/api/people/keeping', { keptDays: 1 }],
    ['PUT', '/api/people/ID', { name: 'X' }],
    ['DELETE', '/api/people/ID', undefined],
    ['PUT', '/api/people/ID/consent', { agreed: true }],
    ['POST', '/api/people/told', undefined],
    ['PUT', '/api/instructor/passphrase', { passphrase: 'another passphrase' }],
    ['DELETE', '/api/instructor/passphrase', undefined],
  ])('only the instructor may %s %s', async (method, where, body) => {
    const token = await setPassphrase();
    const at = where.replace('ID', lee.id);
    expect(await status(ask(method, at, as(kim), body))).toBe(403);
    expect(await status(ask(method, at, instructor(token), body))).toBeLessThan(300);
  });

  it('the area is entered with the passphrase, more slowly after a wrong one, and left', async () => {
    await setPassphrase();
    const tryOne = (passphrase: string) => ask('POST', '/api/instructor/enter', NOBODY, { passphrase });
    const { token } = await answer(NewSessionSchema, tryOne(PASSPHRASE));
    expect(await listed(instructor(token))).toHaveLength(3);
    await ask('POST', '/api/instructor/leave', instructor(token));
    expect(await listed(instructor(token))).toEqual([ids.nobody]);
    expect(await status(tryOne('wrong'))).toBe(403);
    expect(await status(tryOne(PASSPHRASE))).toBe(429);
  });
});

describe('consent', () => {
  it('is asked of each trainee before sound is kept, and kept with its date', async () => {
    expect((await rehearse(kim)).sound).toBe(403);
    expect(await decide(kim, false)).toBe(204);
    expect((await rehearse(kim)).sound).toBe(403);
    expect(await decide(kim, true)).toBe(204);
    const agreed = await rehearse(kim);
    expect(agreed.sound).toBe(200);
    const { trainees } = await answer(PeopleSchema, ask('GET', '/api/people'));
    expect(trainees[0]?.consent).toMatchObject({ agreed: true, at: expect.stringMatching(/^20..-/) });
    expect(trainees[1]?.consent).toBeNull();
  });

  it('given later makes no sound follow in a rehearsal that was begun without', async () => {
    const { id, writer } = await rehearse(kim);
    await decide(kim, true);
    expect(await status(ask('POST', `/api/rehearsals/${id}/sound?from=0`, writer, SOUND))).toBe(403);
    expect(await answer(RehearsalSchema, ask('GET', `/api/rehearsals/${id}`))).toMatchObject({
      samples: 0,
      header: { withoutSound: true, trainee: kim.id },
    });
  });

  it('nobody can be entered who is not there', async () => {
    const begun = {
      skill: 'hand-washing',
      variants: {},
      style: 'silent',
      engine: 'test',
      startedAt: '2026-01-31T09:30:00Z',
      trainee: 'x',
    };
    expect(await status(ask('POST', '/api/rehearsals', NOBODY, begun))).toBe(404);
  });
});

describe('a person who is deleted', () => {
  it('leaves neither name nor id nor words', async () => {
    await decide(kim, true);
    const { id } = await rehearse(kim);
    await rehearse(kim, '2026-01-31T10:30:00Z');
    await take(kim, 16);
    expect(await everything()).toContain(`${kim.id}.json`);
    const damaged = path.join(data, 'rehearsals', '20260131T113000Z-hand-washing');
    await cp(path.join(data, 'rehearsals', id), damaged, { recursive: true });
    await writeFile(path.join(damaged, 'journal.jsonl'), `{"trainee":"${kim.id}", ${SAID}`);
    // Nobody is writing it any more.
    const longAgo = new Date(Date.now() - 60_000);
    for (const name of ['journal.jsonl', 'sound.wav'])
      await utimes(path.join(damaged, name), longAgo, longAgo);
    await listed(NOBODY);
    // An index of an older program is not read, and must not stay either.
    await host.close();
    const index = path.join(data, 'rehearsals', 'index.json');
    await writeFile(index, (await readFile(index, 'utf8')).replace('"program":"', '$&older '));
    await start();
    const before = await everything();
    for (const trace of ['Quillfeather', kim.id, SAID, '\x07\x07\x07\x07']) expect(before).toContain(trace);

    expect(await status(ask('DELETE', `/api/people/${kim.id}`))).toBe(204);
    for (const after of [await everything(), (await host.close(), await start(), await everything())])
      for (const trace of ['Quillfeather', kim.id, SAID, '\x07\x07\x07\x07'])
        expect(after).not.toContain(trace);
    expect(await everything()).toContain(lee.id);
    expect(await status(ask('DELETE', `/api/people/${kim.id}`))).toBe(404);
  });

  it('is deleted not at all while rehearsing', async () => {
    await rehearse(kim);
    const begun = {
      skill: 'hand-washing',
      variants: {},
      style: 'silent',
      engine: 'test',
      startedAt: '2026-01-31T11:30:00Z',
      trainee: kim.id,
    };
    await ask('POST', '/api/rehearsals', NOBODY, begun);
    expect(await status(ask('DELETE', `/api/people/${kim.id}`))).toBe(409);
    expect(await listed(NOBODY)).toHaveLength(2);
    expect((await everything()).includes('Quillfeather')).toBe(true);
  });
});

describe('what the school keeps for some days', () => {
  const later = (days: number): number => Date.parse('2026-01-31T09:30:00Z') + days * 24 * 3_600_000;

  it('is deleted when it is older, whosever it is, and told once', async () => {
    await decide(kim, true);
    const old = [await rehearse(kim), await rehearse(null)];
    const { id } = await rehearse(null, '2026-02-03T09:30:01Z');
    const [people, rehearsals] = [new PeopleFile(data), new Rehearsals(data, skills.library)];
    const bench = new BenchReadings(data);
    await take(kim, 16, '2026-01-31T09:30:00.000Z');
    await take(kim, 18, '2026-02-03T09:30:01.000Z');
    await deleteOld(people, rehearsals, bench, later(10_000));
    expect(await listed(NOBODY)).toHaveLength(3);

    expect(await status(ask('PUT', '/api/people/keeping', NOBODY, { keptDays: 3 }))).toBe(204);
    await deleteOld(people, rehearsals, bench, later(3));
    expect(await listed(NOBODY)).toHaveLength(old.length + 1);
    await deleteOld(people, rehearsals, bench, later(6));
    expect(await listed(NOBODY)).toEqual([id]);
    expect((await bench.of(kim.id)).map(({ recorded }) => recorded)).toEqual([18]);
    expect(await everything()).not.toContain('20260131T093000Z');
    const { deleted } = await answer(PeopleSchema, ask('GET', '/api/people'));
    expect(deleted).toEqual({ count: 2, at: new Date(later(6)).toISOString() });
    await ask('POST', '/api/people/told');
    expect((await answer(PeopleSchema, ask('GET', '/api/people'))).deleted).toBeNull();
  });

  it('is deleted when the program starts', async () => {
    await rehearse(null);
    const { id } = await rehearse(null, new Date().toISOString());
    await ask('PUT', '/api/people/keeping', NOBODY, { keptDays: 1 });
    await host.close();
    await start();
    expect(await listed(NOBODY)).toEqual([id]);
  });

  it.each([0, 1.5, -1, 4000, 'x'])('takes no %s days', async (keptDays) => {
    expect(await status(ask('PUT', '/api/people/keeping', NOBODY, { keptDays }))).toBe(400);
  });
});

describe('a damaged file of people', () => {
  it('is said, and not written over', async () => {
    await mkdir(data, { recursive: true });
    await host.close();
    await writeFile(path.join(data, 'people.json'), '{"trainees":');
    host = await startHost({ data, skills, renderer: data, port: 0, warn: () => undefined });
    const answered = await ask('POST', '/api/people', NOBODY, { name: 'Kim' });
    expect([answered.status, await answered.text()]).toEqual([
      500,
      expect.stringMatching(/people\.json is damaged/),
    ]);
    expect(await readFile(path.join(data, 'people.json'), 'utf8')).toBe('{"trainees":');
  });
});
