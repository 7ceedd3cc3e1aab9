import { readdir, readFile, writeFile } from 'node:fs/promises';
import { request } from 'node:http';
import path from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import {
  givenSkills,
  machine,
  person,
  rehearsed,
  treeOf,
  type Machine,
} from '../../tests/bundles/machine.ts';
import { ProblemSchema, CARRIED_HEADER, INSTRUCTOR_HEADER, TakenInSchema } from './api.ts';
import { Staging } from '../carrying/staging.ts';
import { deleteOld } from './people/keeping.ts';
import { startHost, type Host } from './server.ts';
import type { SkillFolder } from '../library/skillFolder.ts';
import { BenchReadings } from '../people/benchReadings.ts';
import { InstructorsArea } from '../people/instructorsArea.ts';

let theirs: Machine;
let ours: Machine;
let from: Host;
let to: Host;

const serve = ({ data, skills }: Machine): Promise<Host> =>
  startHost({
    data,
    skills,
    renderer: path.join(data, 'none'),
    port: 0,
    warn: (message) => expect.fail(message),
  });

let given: SkillFolder;
beforeAll(async () => {
  given = await givenSkills();
});
beforeEach(async () => {
  [theirs, ours] = [await machine(given), await machine(given)];
  [from, to] = [await serve(theirs), await serve(ours)];
  // The hosts pack, not these.
  await Promise.all([theirs.rehearsals.close(), ours.rehearsals.close()]);
});
afterEach(async () => {
  await Promise.all([from.close(), to.close()]);
  await Promise.all([theirs.remove(), ours.remove()]);
});

const get = (where: string, headers: Record<string, string> = {}): Promise<Response> =>
  fetch(new URL(where, from.url), { headers });
const post = (body: Uint8Array<ArrayBuffer>, headers: Record<string, string> = {}): Promise<Response> =>
  fetch(new URL('/api/bundles', to.url), { method: 'POST', headers, body });
const bytesOf = async (response: Response): Promise<Uint8Array<ArrayBuffer>> =>
  new Uint8Array(await response.arrayBuffer());
const hidden = async ({ data }: Machine): Promise<string[]> =>
  (await readdir(path.join(data, 'rehearsals'))).filter((name) => name.startsWith('.'));

describe('the host', () => {
  it('gives rehearsals as one file, which another host takes in, once', async () => {
    const kim = await person(theirs, 'Kim');
    const id = await rehearsed(theirs, { trainee: kim.id });
    await rehearsed(theirs, { startedAt: '2026-01-01T09:30:00Z' });
    const response = await get('/api/bundle?class=Spring&since=2026-01-15T00:00:00.000Z');
    expect(response.headers.get(CARRIED_HEADER)).toBe('1');
    expect(response.headers.get('content-disposition')).toMatch(
      /filename="rehearsals-[\d-]+\.sinkside\.zip"/,
    );
    const bytes = await bytesOf(response);
    expect(bytes.length).toBe(Number(response.headers.get('content-length')));
    const taken = TakenInSchema.parse(await (await post(bytes)).json());
    expect(taken.attempts).toMatchObject([{ id, became: 'new' }]);
    expect(TakenInSchema.parse(await (await post(bytes)).json()).attempts).toMatchObject([
      { became: 'already here' },
    ]);
    expect(await ours.rehearsals.read(id)).toEqual(await theirs.rehearsals.read(id));
    await expect.poll(() => hidden(theirs)).toEqual([]);
    expect(await hidden(ours)).toEqual([]);
    const both = await get(`/api/bundle?id=${id}&id=20260101T093000Z-hand-washing`);
    expect(both.headers.get(CARRIED_HEADER)).toBe('2');
    await both.arrayBuffer();
  });

  it('does so for the instructor alone', async () => {
    await rehearsed(theirs);
    const tokens = [await new InstructorsArea(theirs.data).set('seven pale lemons'), await new InstructorsArea(ours.data).set('seven pale lemons')];
    // Another session's: the hosts have none of these.
    for (const token of tokens) {
      expect((await get('/api/bundle', { [INSTRUCTOR_HEADER]: token })).status).toBe(403);
      expect((await post(new Uint8Array(9), { [INSTRUCTOR_HEADER]: token })).status).toBe(403);
    }
    expect(await hidden(theirs)).toEqual([]);
  }); // prettier-ignore

  it('says what is wrong with a file, and with what was asked for', async () => {
    const before = await treeOf(ours.data);
    const refused = await post(new TextEncoder().encode('no ZIP file'));
    expect(refused.status).toBe(422);
    expect(ProblemSchema.parse(await refused.json()).error).toMatch(/no file of rehearsals made by Sinkside/);
    expect((await get('/api/bundle?class=Nowhere')).status).toBe(404);
    expect((await get('/api/bundle?since=yesterday')).status).toBe(400);
    expect((await get('/api/bundle?id=../../x')).status).toBe(400);
    expect(await hidden(theirs).catch(() => [])).toEqual([]);
    expect(await treeOf(ours.data)).toEqual(before);
  });

  it('refuses a file that says it is too large before it comes, and leaves nothing of one that breaks off', async () => {
    const { port } = to;
    const tooLarge = await new Promise<number>((done) => {
      const headers = { 'content-length': 2 ** 40 };
      const asked = request({ port, host: '127.0.0.1', method: 'POST', path: '/api/bundles', headers }, (response) => {
        done(response.statusCode ?? 0);
        asked.destroy();
      });
      asked.on('error', () => undefined);
      asked.write('PK');
    }); // prettier-ignore
    expect(tooLarge).toBe(413);
    const broken = request({ port, host: '127.0.0.1', method: 'POST', path: '/api/bundles', headers: { 'content-length': 1000 } });
    broken.on('error', () => undefined);
    broken.write('PK');
    await expect.poll(() => hidden(ours)).not.toEqual([]);
    broken.destroy();
    await expect.poll(() => hidden(ours)).toEqual([]);
  }); // prettier-ignore

  it('deletes once a day what another school keeps no longer, and tells of it', async () => {
    await theirs.people.keepFor(30);
    const startedAt = new Date().toISOString();
    await rehearsed(theirs, { startedAt });
    await post(await bytesOf(await get('/api/bundle')));
    const until = Date.parse(startedAt) + 30 * 24 * 3_600_000;
    const bench = new BenchReadings(ours.data);
    await deleteOld(ours.people, ours.rehearsals, bench, until - 1);
    expect(await ours.rehearsals.ids()).toHaveLength(1);
    await deleteOld(ours.people, ours.rehearsals, bench, until);
    expect(await ours.rehearsals.ids()).toEqual([]);
    expect((await ours.people.read()).deleted?.count).toBe(1);
  });

  it('goes on at its start with what was being taken in when it was stopped', async () => {
    const id = await rehearsed(theirs);
    await to.close();
    const staging = await Staging.begin(path.join(ours.data, 'rehearsals'));
    const whole = await staging.whole(id);
    for (const name of await readdir(path.join(theirs.data, 'rehearsals', id)))
      await writeFile(path.join(whole, name), await readFile(path.join(theirs.data, 'rehearsals', id, name)));
    await staging.settle({ people: [], skills: [] });
    to = await serve(ours);
    expect(await hidden(ours)).toEqual([]);
    expect((await ours.rehearsals.read(id)).samples).toBe(8000);
  });
});
