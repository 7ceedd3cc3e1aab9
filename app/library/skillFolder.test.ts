import { mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { SkillFolder, UnknownSkill } from './skillFolder.ts';

let data = '';
let given = '';
let folder: SkillFolder;
const own = (...names: string[]): string => path.join(data, 'skills', ...names);

/** A skill of one step. */
const skill = (id: string, cue: string, more = ''): string =>
  `# Written at Larkfield.\nschema: 1\nid: ${id}\ntitle: ${id}\ncard: Do it.\n${more}steps:\n  - { id: a, text: A, cues: ["${cue}"] }\n`;
const pack = (parts: object): string =>
  JSON.stringify({ kind: 'sinkside-skills', schema: 1, skills: [], ...parts }, null, 2);
/** What could be taken in, beside what cannot. */
const GOOD = { id: 'pillow', source: skill('pillow', 'i fluff the pillow') };
const narration = (of: string): string =>
  `skill: ${of}\ntitle: All\nsays: [I fluff the pillow.]\npassed: true\n`;

beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-own-'));
  given = path.join(data, 'given');
  await mkdir(given);
  await writeFile(path.join(given, 'bed.yaml'), skill('bed', 'i make the bed'));
  await writeFile(path.join(given, 'tray.yaml'), skill('tray', 'i bring the tray'));
  folder = await SkillFolder.open(data, given);
});
afterEach(() => rm(data, { recursive: true }));

const all = async (where: string): Promise<string[]> => (await readdir(where, { recursive: true })).sort();

describe('saving a skill', () => {
  it('writes it as it is, beside the given ones, and it can be rehearsed at once', async () => {
    const source = skill('pillow', 'i fluff the pillow');
    await folder.save('pillow', source);
    expect(await readFile(own('pillow.yaml'), 'utf8')).toBe(source);
    expect([...folder.library.skills.keys()]).toEqual(['bed', 'tray', 'pillow']);
    expect([...(await SkillFolder.open(data, given)).library.skills.keys()]).toEqual(['bed', 'tray', 'pillow']);
    expect(await folder.source('pillow')).toBe(source);
  }); // prettier-ignore

  it('in place of a given one replaces it where it stands, and keeps what it replaces', async () => {
    const source = skill('bed', 'i straighten the sheets', 'version: 2\nchange: Other words.\n');
    await folder.save('bed', source);
    const { skills } = folder.library;
    expect([...skills.keys()]).toEqual(['bed', 'tray']);
    expect(skills.get('bed')!.steps[0]!.cues).toEqual(['i straighten the sheets']);
    expect(await readFile(path.join(given, 'bed.yaml'), 'utf8')).toContain('i make the bed');
    expect(await folder.versionSource('bed', 1)).toBe(skill('bed', 'i make the bed'));
    expect(folder.versionsOf('bed').map(({ version }) => version)).toEqual([1]);
    expect(folder.library.versions.get('bed')!.get(1)!.steps[0]!.cues).toEqual(['i make the bed']);
    expect(await folder.list()).toEqual([
      { id: 'bed', title: 'bed', version: 2, own: true },
      { id: 'tray', title: 'tray', version: 1, own: false },
    ]);
  });

  it.each<[string, string, string, RegExp]>([
    ['what is marked changed under the same version', 'bed', skill('bed', 'other words'), /bed\.yaml:2:1: version: what is marked has changed; make it version 2 and say in "change"/],
    ['the version goes up and nothing says why', 'bed', skill('bed', 'other words', 'version: 2\n'), /bed\.yaml:2:1: change: say in a sentence what version 2 changes/],
    ['the id is another’s', 'bed', skill('tray', 'i bring the tray'), /bed\.yaml:3:5: id: this is the skill "bed"/],
    ['it is no skill', 'bed', 'schema: 1\nid: bed\n', /bed\.yaml:1:1: title: /],
    ['it is no YAML', 'bed', 'schema: [', /bed\.yaml:/],
  ])('is refused where %s, and nothing is written', async (_, id, source, message) => {
    await expect(folder.save(id, source)).rejects.toThrow(message);
    expect(await all(data)).toEqual(['given', 'given/bed.yaml', 'given/tray.yaml']);
  }); // prettier-ignore

  it('lets a version neither go down nor be written twice', async () => {
    await folder.save('bed', skill('bed', 'b', 'version: 3\nchange: Three.\n'));
    await expect(folder.save('bed', skill('bed', 'b'))).rejects.toThrow(/version 3 is here already; a version never goes down/);
    await expect(folder.save('bed', skill('bed', 'c', 'version: 4\nchange: Three.\n'))).rejects.toThrow(/change: say/);
    await folder.import(pack({ skills: [{ id: 'bed', source: skill('bed', 'old', 'version: 2\n') }] }), true);
    await expect(folder.save('bed', skill('bed', 'new', 'version: 3\nchange: New.\n'))).rejects.toThrow(/version 3 is kept; make it 4/);
    expect((await all(own('versions', 'bed')))).toEqual(['1.yaml', '3.yaml']);
  }); // prettier-ignore

  it('takes another title without another version', async () => {
    await folder.save('bed', skill('bed', 'i make the bed').replace('title: bed', 'title: Bed making'));
    expect(folder.library.skills.get('bed')).toMatchObject({ title: 'Bed making', version: 1 });
    expect(await all(own())).toEqual(['bed.yaml']);
  });

  it('as a new one does not touch one that is there', async () => {
    await expect(folder.save('bed', skill('bed', 'i make the bed'), true)).rejects.toThrow(
      /there is a skill "bed" already/,
    );
  });

  it('after one another checks each against the one before', async () => {
    const next = (n: number) => folder.save('bed', skill('bed', `words ${n}`, `version: 2\nchange: To ${n}.\n`));
    const both = await Promise.allSettled([next(1), next(2)]);
    expect(both.map(({ status }) => status)).toEqual(['fulfilled', 'rejected']);
    expect(folder.library.skills.get('bed')!.steps[0]!.cues).toEqual(['words 1']);
  }); // prettier-ignore
});

describe('an own file that cannot be read', () => {
  it('is told, is there to be put right, and is not lost', async () => {
    await mkdir(own());
    await writeFile(own('bed.yaml'), 'schema: 2\n');
    folder = await SkillFolder.open(data, given);
    expect(folder.library.faults.map(({ file }) => file)).toContain(own('bed.yaml'));
    expect(folder.library.skills.get('bed')!.steps[0]!.cues).toEqual(['i make the bed']);
    expect(await folder.list()).toContainEqual({ id: 'bed', title: 'bed', version: null, own: true });
    expect(await folder.source('bed')).toBe('schema: 2\n');
    await folder.save('bed', skill('bed', 'i make the bed'));
    expect(await all(own())).toEqual(['bed.yaml', 'bed.yaml.unread']);
  });

  it('that is no version is told and left out', async () => {
    await mkdir(own('versions', 'bed'), { recursive: true });
    await writeFile(own('versions', 'bed', '1.yaml'), 'nothing');
    folder = await SkillFolder.open(data, given);
    expect(folder.library.faults[0]!.file).toContain('1.yaml');
    expect(folder.versionsOf('bed')).toEqual([]);
  });
});

it.each(['nobody', '..', '../given/bed', ''])('there is no skill "%s"', async (id) => {
  await expect(folder.source(id)).rejects.toThrow(UnknownSkill);
  await expect(folder.versionSource(id, 1)).rejects.toThrow(UnknownSkill);
  await expect(folder.export([id])).rejects.toThrow(UnknownSkill);
});

describe('a pack', () => {
  it('takes skills, wordings and narrations to another machine', async () => {
    await mkdir(own());
    await writeFile(own('lexicon.yaml'), 'schema: 1\nslots:\n  fluff: [fluff, plump up]\n  other: [other]\n');
    folder = await SkillFolder.open(data, given);
    await folder.save('pillow', skill('pillow', 'i {fluff} the pillow'));
    await folder.saveNarration('pillow-1.yaml', narration('pillow'));
    await folder.saveNarration('bed-1.yaml', narration('bed'));
    const sent = await folder.export(['pillow']);
    expect(sent).toMatchObject({ lexicon: { fluff: ['fluff', 'plump up'] }, narrations: [{ name: 'pillow-1.yaml' }] });
    expect(sent.lexicon).not.toHaveProperty('other');

    const elsewhere = path.join(data, 'elsewhere');
    await mkdir(path.join(elsewhere, 'skills'), { recursive: true });
    await writeFile(path.join(elsewhere, 'skills', 'lexicon.yaml'), '# Ours.\nschema: 1\nslots:\n  fluff: [shake]\n');
    const there = await SkillFolder.open(elsewhere, given);
    expect(await there.import(JSON.stringify(sent))).toEqual({ skills: ['pillow'], narrations: ['pillow-1.yaml'] });
    expect(there.library.lexicon.slots['fluff']).toEqual(['shake', 'fluff', 'plump up']);
    expect(await readFile(path.join(elsewhere, 'skills', 'lexicon.yaml'), 'utf8')).toMatch(/^# Ours\./);
    expect(await there.source('pillow')).toBe(await folder.source('pillow'));
    expect(await there.import(JSON.stringify(sent))).toMatchObject({ skills: ['pillow'] });
  }); // prettier-ignore

  it.each<[string, string, RegExp]>([
    ['no JSON', '{"kind": ', /^pack:1:\d+: /],
    ['something else', '{"kind": "holiday"}', /pack:1:\d+: kind: this is no pack of skills/],
    ['a skill with faults, and another, each with its place', pack({ skills: [GOOD, { id: 'a', source: skill('a', '{none}') }, { id: 'b', source: 'schema: 1\nid: b\n' }] }), /pack: a\.yaml:7:30: steps\[0\]\.cues\[0\]: unknown slot \{none\}[^]*pack: b\.yaml:1:1: title/],
    ['a skill of another name', pack({ skills: [GOOD, { id: 'a', source: skill('b', 'x y') }] }), /pack: a\.yaml:3:5: id: the pack calls it "a"/],
    ['a path for an id', pack({ skills: [GOOD, { id: '../a', source: '' }] }), /pack:\d+:\d+: skills\[1\]\.id: an id is lower-case/],
    ['a path for a narration', pack({ skills: [GOOD, { id: 'a', source: skill('a', 'x y') }], narrations: [{ name: '../x.yaml', source: '' }] }), /narrations\[0\]\.name/],
    ['a narration of no skill', pack({ skills: [GOOD, { id: 'a', source: skill('a', 'x y') }], narrations: [{ name: 'x.yaml', source: narration('z') }] }), /pack: x\.yaml:1:8: skill: there is no skill "z"/],
    ['a faulty slot', pack({ skills: [GOOD, { id: 'a', source: skill('a', 'x y') }], lexicon: { 'A B': ['x'] } }), /lexicon/],
  ])('with %s is refused whole', async (_, text, message) => {
    await expect(folder.import(text)).rejects.toThrow(message);
    expect(await all(data)).toEqual(['given', 'given/bed.yaml', 'given/tray.yaml']);
  }); // prettier-ignore

  it('overwrites nothing newer, nor another of the same version, unless asked to', async () => {
    await folder.save('bed', skill('bed', 'three', 'version: 3\nchange: Three.\n'));
    const older = pack({
      skills: [{ id: 'bed', source: skill('bed', 'two', 'version: 2\nchange: Two.\n') }],
    });
    const fork = pack({
      skills: [{ id: 'bed', source: skill('bed', 'fork', 'version: 3\nchange: Fork.\n') }],
    });
    await expect(folder.import(older)).rejects.toThrow(/version: version 3 is here already, which is newer/);
    await expect(folder.import(fork)).rejects.toThrow(/version: another version 3 is here already/);
    expect(folder.library.skills.get('bed')!.version).toBe(3);
    await folder.import(fork, true);
    expect(folder.library.skills.get('bed')!.change).toBe('Fork.');
    expect(await folder.versionSource('bed', 3)).toContain('three');
  });
});

it('a narration is written where the skill is, and refused with its fault', async () => {
  await folder.saveNarration('bed-1-all.yaml', narration('bed'));
  expect(await readFile(own('narrations', 'bed-1-all.yaml'), 'utf8')).toBe(narration('bed'));
  await expect(folder.saveNarration('bed-2.yaml', narration('zed'))).rejects.toThrow(/skill: there is no skill "zed"/);
  await expect(folder.saveNarration('../x.yaml', narration('bed'))).rejects.toThrow(/no name of a narration/);
}); // prettier-ignore
