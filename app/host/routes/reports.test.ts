import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { z } from 'zod';
import { rehearse } from '../../../tests/rehearsal/making/rehearse.ts';
import { shipped } from '../../../tests/rehearsal/making/narrate.ts';
import { SkillFolder } from '../../library/skillFolder.ts';
import type { ReviewEvent } from '../../marking/events.ts';
import { AttemptReportSchema } from '../../report/attemptReport.ts';
import { ClassReportSchema } from '../../report/classReport.ts';
import {
  CreatedSchema,
  INSTRUCTOR_HEADER,
  NewSessionSchema,
  ProblemSchema,
  RehearsalSchema,
  TRAINEE_HEADER,
  TraineeSchema,
  WRITER_HEADER,
  type Trainee,
} from '../api.ts';
import { inLocalTime } from '../localTime.ts';
import { startHost, type Host } from '../server.ts';

type Headers = Record<string, string>;
const BY = { by: 'R. Ortega', madeAt: '2026-11-30T09:00:00.000Z', skill: 0 } as const;
const READING = 'record';
const own = (value: number): ReviewEvent => ({
  ...{ type: 'measured', ...BY, step: READING },
  ...{ value, byRehearser: true },
});

let data = '';
let host: Host;
let kim: Trainee;
let lee: Trainee;
let id = '';
let instructor: Headers = {};
const as = (trainee: Trainee): Headers => ({ [TRAINEE_HEADER]: trainee.id });

function ask(where: string, headers: Headers = {}, body?: unknown, method = body ? 'POST' : 'GET') {
  const init = body === undefined ? {} : { body: JSON.stringify(body) };
  const all = { ...headers, 'content-type': 'application/json' };
  return fetch(new URL(where, host.url), { method, headers: all, ...init });
}
async function answer<S extends z.ZodType>(schema: S, asked: Promise<Response>): Promise<z.output<S>> {
  const response = await asked;
  expect(response.ok, await response.clone().text()).toBe(true);
  return schema.parse(await response.json());
}
const add = (headers: Headers, ...events: ReviewEvent[]): Promise<Response> =>
  ask(`/api/rehearsals/${id}/review`, headers, { events });
const reportFor = (headers: Headers, of = id) =>
  answer(AttemptReportSchema, ask(`/api/rehearsals/${of}/report.json`, headers));

async function keep(trainee: Trainee, startedAt: string): Promise<string> {
  const lines = ['I am ready.', 'Starting now.', 61, 'Done, one full minute.', 'I counted 22 breaths.'];
  const { events } = await rehearse(shipped('respirations'), lines);
  const begun = { skill: 'respirations', variants: {}, style: 'silent', engine: 'test', startedAt };
  const created = ask('/api/rehearsals', {}, { ...begun, trainee: trainee.id });
  const kept = await answer(CreatedSchema, created);
  const written = await ask(
    `/api/rehearsals/${kept.id}/events`,
    { [WRITER_HEADER]: kept.writer },
    { from: 0, events },
  );
  expect(written.status).toBe(200);
  return kept.id;
}

beforeAll(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-reports-'));
  const skills = await SkillFolder.open(data);
  host = await startHost({ data, skills, renderer: data, port: 0, warn: (message) => expect.fail(message) });
  const enter = (name: string, group: string) =>
    answer(TraineeSchema, ask('/api/people', {}, { name, class: group }));
  kim = await enter('<b>Kim</b>', 'Spring');
  lee = await enter('Lee O.', 'Autumn');
  id = await keep(kim, '2026-11-24T08:10:00.000Z');
  await keep(lee, '2026-11-25T08:10:00.000Z');
  const passphrase = { passphrase: 'seven pale lemons' };
  const { token } = await answer(NewSessionSchema, ask('/api/instructor/passphrase', {}, passphrase, 'PUT'));
  instructor = { [INSTRUCTOR_HEADER]: token };
}, 60_000);
afterAll(async () => {
  await host.close();
  await rm(data, { recursive: true });
});

describe('the report of a rehearsal', () => {
  it('is for who may see the rehearsal, in three forms', async () => {
    for (const form of ['html', 'csv', 'json']) {
      const at = `/api/rehearsals/${id}/report.${form}`;
      for (const headers of [{}, as(lee)]) expect((await ask(at, headers)).status).toBe(404);
      for (const headers of [as(kim), instructor]) expect((await ask(at, headers)).status).toBe(200);
    }
    const page = await ask(`/api/rehearsals/${id}/report.html`, as(kim));
    expect(page.headers.get('content-type')).toBe('text/html; charset=utf-8');
    expect(page.headers.get('content-disposition')).toBe(`inline; filename="report-${id}.html"`);
    expect(await page.text()).toContain('&lt;b&gt;Kim&lt;/b&gt;');
    expect((await ask(`/api/rehearsals/${id}/report.pdf`, instructor)).status).toBe(404);
    expect(await reportFor(instructor)).toMatchObject({
      id,
      trainee: { name: '<b>Kim</b>', class: 'Spring' },
    });
  });

  it('shows who rehearsed the number that they gave, and no review', async () => {
    expect((await add(as(lee), own(20))).status).toBe(404);
    expect((await add(as(kim), own(20))).status).toBe(200);
    const verdict: ReviewEvent = {
      ...{ type: 'reviewed', ...BY, step: 'greet', verdict: 'no' },
      ...{ reason: '', heardAt: null, blind: false },
    };
    expect((await add(as(kim), own(20), verdict)).status).toBe(403);
    expect((await add(as(kim), { type: 'measured', ...BY, step: READING, value: 9 })).status).toBe(403);
    expect((await add(instructor, verdict)).status).toBe(200);

    const [theirs] = (await reportFor(as(kim))).skills;
    const [whole] = (await reportFor(instructor)).skills;
    expect([theirs?.person, whole?.person?.of]).toEqual([null, whole?.steps.length]);
    expect(theirs?.readings).toMatchObject([{ measured: 20, measuredBy: 'rehearser', tolerance: 2 }]);
    const { events } = await answer(RehearsalSchema, ask(`/api/rehearsals/${id}`, as(kim)));
    expect(events.at(-1)).toEqual(own(20));

    expect((await add(instructor, { type: 'signed off', ...BY })).status).toBe(200);
    const late = await add(as(kim), own(22));
    expect([late.status, ProblemSchema.parse(await late.json()).error]).toEqual([
      409,
      'Its review is signed off.',
    ]);
  });
});

it.each(['2026-11-24T08:10:00.000Z', '2026-07-01T23:59:59.000Z'])(
  '%s is the same moment in local time',
  (iso) => {
    expect(inLocalTime(iso)).toMatch(/^2026-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$/);
    expect(new Date(inLocalTime(iso)).toISOString()).toBe(iso);
  },
);

describe('the report of a class', () => {
  const classReport = (query: string) =>
    answer(ClassReportSchema, ask(`/api/class/report.json?${query}`, instructor));

  it('is for the instructor, by class, skill and day', async () => {
    for (const headers of [{}, as(kim)])
      expect((await ask('/api/class/report.html', headers)).status).toBe(403);
    const all = await classReport('');
    expect([all.about, all.attempts, all.skills.length]).toEqual([
      'Everybody on this machine; every skill',
      2,
      1,
    ]);
    expect(all.people.map(({ name }) => name)).toEqual(['<b>Kim</b>', 'Lee O.']);
    expect(all.agreement?.attempts).toBe(1);
    const spring = await classReport('class=Spring&skill=respirations&from=2026-11-01&to=2026-11-30');
    expect(spring.about).toMatch(/^Class Spring; Count.*; from 2026-11-01 to 2026-11-30$/);
    expect(spring.people.map(({ attempts }) => attempts)).toEqual([1]);
    expect(await classReport('from=2026-12-01')).toMatchObject({ attempts: 0, skills: [], agreement: null });
    expect((await ask('/api/class/report.csv?from=soon', instructor)).status).toBe(400);
    expect(await (await ask('/api/class/report.html', instructor)).text()).toContain(
      '&lt;b&gt;Kim&lt;/b&gt;',
    );
  });
});
