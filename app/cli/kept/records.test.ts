import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { machine, NOW, person, rehearsed, verdict, type Machine } from '../../../tests/bundles/machine.ts';
import { callCli } from '../../../tests/callCli.ts';
import { TakenInSchema } from '../../carrying/takenIn.ts';
import { startHost } from '../../host/server.ts';
import { RehearsalSummarySchema } from '../../records/summary.ts';
import { openBundle } from '../../bundle/read.ts';

let here: Machine;
let folder = '';
let id = '';
let old = '';
const file = (): string => path.join(folder, 'some.sinkside.zip');
const records = (...args: string[]): ReturnType<typeof callCli> =>
  callCli('records', ...args, '--data', here.data);

beforeAll(async () => {
  here = await machine();
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-records-'));
  const kim = await person(here, 'Kim');
  id = await rehearsed(here, { trainee: kim.id });
  old = await rehearsed(here, { startedAt: '2026-01-01T09:30:00Z' });
  await here.rehearsals.addReview(id, [verdict('greet')], NOW);
  // The commands pack, not this one.
  await here.rehearsals.close();
});
afterAll(async () => {
  await here.remove();
  await rm(folder, { recursive: true });
});

describe('sinkside records', () => {
  it('lists what is kept, and shows one of it, in words or as JSON', async () => {
    const { code, out, err } = await records('list');
    expect([code, err]).toEqual([0, '']);
    expect(out).toMatch(new RegExp(`^${id}  Hand washing: 1 of \\d+ steps heard\\n${old}  `));
    const listed = JSON.parse((await records('list', '--json')).out) as unknown[];
    expect(listed.map((each) => RehearsalSummarySchema.parse(each).id)).toEqual([id, old]);
    expect((await records('show', id)).out).toMatch(/4 events, 1 of them by people\. With sound\./);
    expect(JSON.parse((await records('show', id, '--json')).out)).toMatchObject({ id, events: 4, reviews: 1, samples: 8000 });
  }); // prettier-ignore

  it('writes a file of those that are wanted, and takes it in elsewhere, once', async () => {
    const { code, out } = await records(
      'export',
      file(),
      '--class',
      'Spring',
      '--since',
      '2026-01-15',
      '--json',
    );
    expect([code, JSON.parse(out)]).toEqual([0, { file: file(), carried: [id], leftOut: [] }]);
    const { attempts } = await openBundle(file()).then(async ({ manifest, close }) =>
      close().then(() => manifest),
    );
    expect(attempts.map(({ record }) => record)).toEqual([id]);
    expect((await records('export', file(), id, old)).out).toBe(`2 rehearsals are in ${file()}.\n`);

    const elsewhere = path.join(folder, 'data');
    const first = await callCli('records', 'import', file(), '--data', elsewhere, '--json');
    expect(TakenInSchema.parse(JSON.parse(first.out)).attempts.map(({ became }) => became)).toEqual([
      'new',
      'new',
    ]);
    const second = await callCli('records', 'import', file(), '--data', elsewhere);
    expect([second.code, second.out]).toEqual([0, '2 rehearsals here already: nothing changed.\n']);
    const rebuilt = await callCli('records', 'rebuild', '--data', elsewhere);
    expect([rebuilt.code, rebuilt.out]).toEqual([0, 'The index is made anew: 2 rehearsals.\n']);
    const deleted = await callCli('records', 'delete', id, old, '--data', elsewhere);
    expect(deleted.code).toBe(0);
    expect((await callCli('records', 'list', '--data', elsewhere)).out).toBe('No rehearsal is kept.\n');
  });

  it('writes the report of one, with what people said', async () => {
    const report = path.join(folder, 'report.html');
    expect((await records('export', report, id, '--report', 'html')).out).toBe(
      `The report is in ${report}.\n`,
    );
    expect(await readFile(report, 'utf8')).toMatch(/<html[^]*Hand washing[^]*R\. Ortega/);
    expect((await records('export', report, id, '--report', 'json')).code).toBe(0);
    expect(JSON.parse(await readFile(report, 'utf8'))).toMatchObject({ id });
    expect((await records('export', report, '--report', 'html')).code).toBe(2);
    expect((await records('export', report, id, '--report', 'pdf')).code).toBe(2);
  });

  it('prints what people said', async () => {
    const { code, out } = await callCli('review', 'export', '--data', here.data);
    expect(code).toBe(0);
    const standing = [{ skill: 0, verdicts: { greet: 'yes' }, measured: {}, signedOff: null }];
    expect(JSON.parse(out)).toMatchObject([{ id, skill: 'hand-washing', version: 1, said: [verdict('greet')], standing }]);
    expect((await callCli('review', 'export', 'none', '--data', here.data)).code).toBe(3);
  }); // prettier-ignore

  it.each<[number, RegExp, string[]]>([
    [2, /^Usage/, []],
    [2, /^Usage/, ['juggle']],
    [2, /^Usage/, ['show']],
    [2, /^Usage/, ['list', '--class', 'Spring']],
    [2, /"yesterday" is no day/, ['export', 'x.zip', '--since', 'yesterday']],
    [2, /either ids/, ['export', 'x.zip', '20260101T093000Z-hand-washing', '--class', 'Spring']],
    [3, /There is no rehearsal "20260101T000000Z-none"/, ['show', '20260101T000000Z-none']],
    [3, /There is no rehearsal/, ['delete', '20260101T000000Z-none']],
    [3, /There is no rehearsal/, ['export', 'x.zip', '--class', 'Nowhere']],
    [3, /no such file/, ['import', 'no-such-file.zip']],
  ])('says with code %i what is wrong: %s', async (code, message, args) => {
    const said = await records(...args);
    expect([said.code, said.out]).toEqual([code, '']);
    expect(said.err).toMatch(message);
  });

  it('refuses a file that is none, and whatever changes something while the room is open', async () => {
    await writeFile(file(), 'no ZIP file');
    expect(await records('import', file())).toMatchObject({ code: 3, err: expect.stringMatching(/no file of rehearsals/) as string });
    const { data, skills } = here;
    const host = await startHost({ data, skills, renderer: folder, port: 0, warn: (message) => expect.fail(message) });
    expect(await records('delete', id)).toMatchObject({ code: 2, err: expect.stringMatching(/is in use by process/) as string });
    expect((await records('list')).code).toBe(0);
    await host.close();
    expect(await readFile(path.join(data, 'rehearsals', id, 'journal.jsonl'), 'utf8')).toMatch(/ended/);
  }); // prettier-ignore
});
