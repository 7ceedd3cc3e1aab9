import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { SkillFolder } from '../library/skillFolder.ts';
import { SkillPackSchema } from '../authoring/skillPack.ts';
import {
  CheckedSkillSchema,
  ImportedPackSchema,
  LibrarySchema,
  ListedSkillsSchema,
  ProblemSchema,
  RehearsalsSchema,
  SavedSkillSchema,
  SkillSourceSchema,
  SkillVersionsSchema,
} from './api.ts';
import { startHost, type Host } from './server.ts';

const skill = (more: string, cue: string): string =>
  `schema: 1\nid: tray\ntitle: Bringing a tray\ncard: Bring the tray.\n${more}steps:\n  - { id: a, text: A, cues: ["${cue}", "{hello} and here is lunch"] }\n`;
const FIRST = skill('', 'i bring the tray');
const SECOND = skill('version: 2\nchange: Says carry.\n', 'i carry the tray');

let data = '';
let host: Host;
beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-skills-host-'));
  host = await startHost({ data, skills: await SkillFolder.open(data), renderer: data, port: 0, warn: (message) => expect.fail(message) });
}); // prettier-ignore
afterEach(async () => {
  await host.close();
  await rm(data, { recursive: true });
});

const get = (where: string): Promise<Response> => fetch(new URL(where, host.url));
const send = (method: 'POST' | 'PUT', where: string, value: unknown): Promise<Response> =>
  fetch(new URL(where, host.url), {
    method,
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(value),
  });
const problem = async (response: Response) => ({
  status: response.status,
  ...ProblemSchema.parse(await response.json()),
});

describe('a skill that is written', () => {
  it('is saved, listed, read back and rehearsed at once; its versions are kept', async () => {
    const saved = await send('PUT', '/api/skills/tray', { source: FIRST, fresh: true });
    expect(SavedSkillSchema.parse(await saved.json())).toEqual({ id: 'tray', version: 1 });
    expect(SkillSourceSchema.parse(await (await get('/api/skills/tray/source')).json()).source).toBe(FIRST);
    const listed = ListedSkillsSchema.parse(await (await get('/api/skills')).json());
    expect(listed).toContainEqual({ id: 'tray', title: 'Bringing a tray', version: 1, own: true });
    expect(listed).toContainEqual(expect.objectContaining({ id: 'hand-washing', own: false }));
    const { skills } = LibrarySchema.parse(await (await get('/api/library')).json());
    expect(skills.map(({ id }) => id)).toContain('tray');

    const begun = { skill: 'tray', version: 1, variants: {}, style: 'coach', engine: 'test', startedAt: '2026-01-31T09:30:00Z' };
    expect((await send('POST', '/api/rehearsals', begun)).status).toBe(201);
    expect((await send('PUT', '/api/skills/tray', { source: SECOND })).status).toBe(200);
    const [rehearsal] = RehearsalsSchema.parse(await (await get('/api/rehearsals')).json());
    expect(rehearsal).toMatchObject({ skill: 'tray', version: 1, note: '' });
    const versions = SkillVersionsSchema.parse(await (await get('/api/skills/tray/versions')).json());
    expect(versions.map(({ version }) => version)).toEqual([1]);
    expect(await (await get('/api/skills/tray/versions/1')).json()).toEqual({ id: 'tray', source: FIRST });
  }); // prettier-ignore

  it('with faults is refused with all of them, and nothing is written', async () => {
    const bad = FIRST.replace('{hello}', '{helo}').replace('text: A', 'text: ""');
    const refused = await problem(await send('PUT', '/api/skills/tray', { source: bad }));
    expect(refused).toMatchObject({ status: 422, faults: [{ line: 6, field: 'steps[0].text' }] });
    expect((await problem(await get('/api/skills/tray/source'))).status).toBe(404);
    await send('PUT', '/api/skills/tray', { source: FIRST });
    const same = await problem(await send('PUT', '/api/skills/tray', { source: skill('', 'other words') }));
    expect(same.faults).toEqual([expect.objectContaining({ field: 'version', message: expect.stringContaining('make it version 2') })]);
    expect((await problem(await send('PUT', '/api/skills/tray', { source: 7 }))).status).toBe(400);
  }); // prettier-ignore

  it.each(['nobody', '..%2fsettings', '%2e%2e'])('is not "%s"', async (id) => {
    expect((await problem(await get(`/api/skills/${id}/source`))).status).toBe(404);
    expect((await problem(await get(`/api/skills/${id}/versions/1`))).status).toBe(404);
    expect((await send('PUT', `/api/skills/${id}`, { source: FIRST })).status).toBeGreaterThanOrEqual(400);
  });
});

describe('a skill that is being written', () => {
  const check = async (body: object) =>
    CheckedSkillSchema.parse(await (await send('POST', '/api/skills/check', body)).json());

  it('is told its faults, or what had better be looked at, and what a sentence does', async () => {
    expect(await check({ source: FIRST })).toEqual({ faults: [], warnings: [], tried: null });
    expect(await check({ source: 'schema: 1\nid: 7\n' })).toMatchObject({
      faults: expect.arrayContaining([expect.objectContaining({ line: 2, field: 'id' })]),
      tried: null,
    });
    const { warnings, tried } = await check({
      source: FIRST.replace('text: A', 'text: Bring the tray, critical: true, when: {}').replace(
        /, "\{hello\}.*"\]/,
        ']',
      ),
      phrase: 'I bring you the tray.',
      variants: { tap: 'lever' },
    });
    expect(warnings).toEqual([expect.objectContaining({ line: 6, field: 'steps[0].cues[0]' })]);
    expect(tried!.effects).toEqual([expect.objectContaining({ step: 'a', does: 'credited' })]);
    expect(tried!.meant).toEqual([{ step: 'a', text: 'Bring the tray', sure: expect.any(Number) as number }]);
  });
});

describe('a pack', () => {
  it('goes out and comes in again', async () => {
    await send('PUT', '/api/skills/tray', { source: FIRST });
    const pack = SkillPackSchema.parse(await (await send('POST', '/api/skills/export', { ids: ['tray'] })).json());
    expect(pack.skills).toEqual([{ id: 'tray', source: FIRST }]);
    expect(Object.keys(pack.lexicon)).toEqual(['hello']);
    await send('PUT', '/api/skills/tray', { source: SECOND });
    const refused = await problem(await send('POST', '/api/skills/import', { pack: JSON.stringify(pack) }));
    expect(refused).toMatchObject({ status: 422, faults: [{ file: 'pack: tray.yaml', field: 'version' }] });
    const taken = await send('POST', '/api/skills/import', { pack: JSON.stringify(pack), replace: true });
    expect(ImportedPackSchema.parse(await taken.json())).toEqual({ skills: ['tray'], narrations: [] });
    expect(await readFile(path.join(data, 'skills', 'tray.yaml'), 'utf8')).toBe(FIRST);
    expect(await readFile(path.join(data, 'skills', 'versions', 'tray', '2.yaml'), 'utf8')).toBe(SECOND);
    expect((await problem(await send('POST', '/api/skills/export', { ids: [] }))).status).toBe(400);
    expect((await problem(await send('POST', '/api/skills/import', { pack: '{' }))).status).toBe(422);
  }); // prettier-ignore
});
