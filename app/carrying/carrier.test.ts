import { appendFile, cp, mkdtemp, readdir, readFile, rename, rm, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import {
  givenSkills,
  machine,
  NOW,
  openMachine,
  person,
  rehearsed,
  REHEARSED,
  treeOf,
  verdict,
  type Machine,
} from '../../tests/bundles/machine.ts';
import { openBundle } from '../bundle/read.ts';
import { writeBundle } from '../bundle/write.ts';
import { entryOf, type AttemptFile, type CarriedAttempt } from '../bundle/manifest.ts';
import type { SkillFolder } from '../library/skillFolder.ts';
import { Staging } from './staging.ts';
import { ChangedHere } from './takeIn.ts';
import { takenInWords, type TakenIn } from './takenIn.ts';

/** The trainee's machine, and the instructor's. */
let theirs: Machine;
let ours: Machine;
let folder = '';
const file = (): string => path.join(folder, 'some.sinkside.zip');

let given: SkillFolder;
beforeAll(async () => {
  given = await givenSkills();
});
beforeEach(async () => {
  [theirs, ours] = [await machine(given), await machine(given)];
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-carried-'));
});
afterEach(async () => {
  await Promise.all([theirs.remove(), ours.remove(), rm(folder, { recursive: true })]);
});

const EVERYTHING = { class: null, since: -Infinity };
/** Carries all from one machine to another. */
async function carry(from = theirs, to = ours): Promise<TakenIn> {
  await from.carrier.make(file(), EVERYTHING);
  return to.carrier.takeIn(file());
}
const became = ({ attempts }: TakenIn): string[] => attempts.map((attempt) => attempt.became);
const kept = (where: Machine, id: string): string => path.join(where.data, 'rehearsals', id);
async function soundOf(where: Machine, id: string): Promise<Buffer> {
  const sound = await where.rehearsals.sound(id);
  const pieces: Uint8Array[] = [];
  for await (const piece of sound.read(0, sound.dataBytes)) pieces.push(piece);
  return Buffer.concat(pieces);
}

describe('rehearsals that are carried to another machine', () => {
  it('are there with journal, sound, marks and people, and the second time nothing changes', async () => {
    const kim = await person(theirs, 'Kim Quillfeather');
    const id = await rehearsed(theirs, { trainee: kim.id });
    await rehearsed(theirs);
    const taken = await carry();
    expect(became(taken)).toEqual(['new', 'new']);
    expect(taken.people).toEqual(['Kim Quillfeather']);
    expect(await ours.rehearsals.read(id)).toEqual(await theirs.rehearsals.read(id));
    expect((await soundOf(ours, id)).equals(await soundOf(theirs, id))).toBe(true);
    expect(await ours.rehearsals.list()).toEqual(await theirs.rehearsals.list());
    expect((await ours.people.read()).trainees).toEqual([kim]);
    const before = await treeOf(ours.data);
    expect(became(await ours.carrier.takeIn(file()))).toEqual(['already here', 'already here']);
    expect(await treeOf(ours.data)).toEqual(before);
    expect(takenInWords(taken)).toEqual(['2 rehearsals taken in.', 'Added: Kim Quillfeather.']);
  });

  it('are those of a class since a day, or those that are named', async () => {
    const [kim, lee] = [await person(theirs, 'Kim'), await person(theirs, 'Lee', true, 'Autumn')];
    const old = await rehearsed(theirs, { trainee: kim.id, startedAt: '2026-01-05T09:00:00Z' });
    const mine = await rehearsed(theirs, { trainee: kim.id });
    await rehearsed(theirs, { trainee: lee.id });
    const since = Date.parse('2026-01-06T00:00:00Z');
    const carried = async (wanted: Parameters<Machine['carrier']['make']>[1]): Promise<string[]> =>
      (await theirs.carrier.make(file(), wanted)).manifest.attempts.map(({ record }) => record);
    expect(await carried({ class: 'Spring', since })).toEqual([mine]);
    expect(await carried({ class: 'Spring', since: -Infinity })).toEqual([mine, old]);
    expect(await carried({ ids: [old] })).toEqual([old]);
    expect(await carried({ class: '', since: -Infinity })).toEqual([]);
  });

  it('come back reviewed, and reviews of both sides stand side by side', async () => {
    const id = await rehearsed(theirs);
    await carry();
    await ours.rehearsals.addReview(id, [verdict('greet')], NOW);
    expect(became(await carry(ours, theirs))).toEqual(['longer']);
    expect((await theirs.rehearsals.read(id)).events.at(-1)).toEqual(verdict('greet'));
    expect((await readdir(kept(theirs, id))).sort()).toEqual(['journal.jsonl', 'sound.flac', 'writer']);

    await ours.rehearsals.addReview(id, [verdict('wet')], NOW);
    await theirs.rehearsals.addReview(id, [verdict('soap', 'M. Field')], NOW);
    expect(became(await carry())).toEqual(['reviews added']);
    const { events } = await ours.rehearsals.read(id);
    expect(events.slice(REHEARSED.length).map((event) => 'step' in event && event.step)).toEqual(['greet', 'soap', 'wet']);
    expect(became(await carry())).toEqual(['already here']);
    expect(became(await carry(ours, theirs))).toEqual(['longer']);
    expect(await theirs.rehearsals.read(id)).toEqual(await ours.rehearsals.read(id));
    expect(await theirs.rehearsals.list()).toHaveLength(1);
  }); // prettier-ignore

  it('are kept beside another one that went a different way, once', async () => {
    const id = await rehearsed(theirs);
    await rehearsed(ours, {}, [...REHEARSED.slice(0, 2), { type: 'ended', at: 9 }]);
    const taken = await carry();
    expect(taken.attempts).toMatchObject([{ record: id, id: `${id}-2`, became: 'beside another' }]);
    expect((await ours.rehearsals.read(`${id}-2`)).events).toEqual(REHEARSED);
    expect((await carry()).attempts).toMatchObject([{ record: id, id: `${id}-2`, became: 'already here' }]);
    expect(await ours.rehearsals.list()).toHaveLength(2);
  });

  it('bring the sound along where one that was broken off was gone on with', async () => {
    const [began] = REHEARSED;
    const begun = { skill: 'hand-washing', version: 1, variants: { tap: 'lever' }, style: 'coach', engine: 'test', startedAt: '2026-02-01T09:30:00Z' } as const;
    const { id, writer } = await theirs.rehearsals.create(begun);
    await theirs.rehearsals.addSound(id, 0, new Uint8Array(3200).fill(3), writer);
    if (began) await theirs.rehearsals.addEvents(id, 0, [began], writer);
    const rehearsing = await theirs.carrier.make(file(), EVERYTHING);
    expect(rehearsing.leftOut).toEqual([{ id, why: 'somebody is rehearsing it just now' }]);
    for (const name of ['journal.jsonl', 'sound.wav']) await utimes(path.join(kept(theirs, id), name), NOW / 1000 - 60, NOW / 1000 - 60);
    await carry();
    expect((await ours.rehearsals.read(id)).samples).toBe(1600);
    await theirs.rehearsals.addSound(id, 1600, new Uint8Array(3200).fill(5), writer);
    await theirs.rehearsals.addEvents(id, 1, REHEARSED.slice(1), writer);
    expect(became(await carry())).toEqual(['longer']);
    expect(await ours.rehearsals.read(id)).toEqual(await theirs.rehearsals.read(id));
    expect((await readdir(kept(ours, id))).sort()).toEqual(['journal.jsonl', 'sound.flac', 'writer']);
  }); // prettier-ignore
});

describe('what a person agreed to travels with a rehearsal', () => {
  it('so that no sound is carried where they do not agree, nor kept where they do not agree here', async () => {
    const [kim, lee] = [await person(theirs, 'Kim'), await person(theirs, 'Lee')];
    const ids = [await rehearsed(theirs, { trainee: kim.id }), await rehearsed(theirs, { trainee: lee.id })];
    await theirs.people.decide(kim.id, false, NOW);
    await ours.people.addMissing([{ ...lee, name: 'Lee O.', consent: null }]);
    const taken = await carry();
    expect(taken.attempts.map(({ withoutSound }) => withoutSound).sort()).toEqual([false, true]);
    expect(taken.people).toEqual(['Kim']);
    for (const id of ids) expect((await ours.rehearsals.read(id)).samples).toBe(0);
    // Who is here already stays as they are.
    expect((await ours.people.trainee(lee.id)).name).toBe('Lee O.');
    expect((await ours.people.trainee(kim.id)).consent?.agreed).toBe(false);
  });

  it('and how long it is kept: it is deleted here then, or not taken in afterwards', async () => {
    await theirs.people.keepFor(30);
    const id = await rehearsed(theirs);
    await carry();
    const until = Date.parse('2026-02-01T09:30:00.250Z') + 30 * 24 * 3_600_000;
    await ours.rehearsals.deleteOver(until - 1);
    expect(await ours.rehearsals.ids()).toEqual([id]);
    // Handed on, the sooner of both times counts.
    const third = await machine(given);
    await ours.people.keepFor(1000);
    await carry(ours, third);
    await third.rehearsals.deleteOver(until);
    expect(await third.rehearsals.ids()).toEqual([]);
    await third.remove();
    await ours.rehearsals.deleteOver(until);
    expect(await ours.rehearsals.ids()).toEqual([]);
    const later = await openMachine(ours.data, { now: until, skills: given });
    expect(became(await later.carrier.takeIn(file()))).toEqual(['its time is over']);
    expect(await later.rehearsals.ids()).toEqual([]);
  });
});

const PILLOW = (version: number, cue: string): string =>
  `schema: 1\nid: pillow\ntitle: Pillow\ncard: Do it.\nversion: ${version}\nchange: Version ${version}.\nsteps:\n  - use: greet\n  - { id: fluff, text: Fluffs it, cues: ["${cue}"] }\n`;

describe('the school’s own skills', () => {
  beforeEach(async () => {
    await Promise.all([theirs.remove(), ours.remove()]);
    [theirs, ours] = [await machine(), await machine()];
  });

  it('go along in the version that was marked under, to mark by, and replace nothing', async () => {
    await theirs.skills.save('pillow', PILLOW(1, 'i fluff the pillow'));
    const began = { type: 'began', skill: 'pillow', variants: {} } as const;
    const id = await rehearsed(theirs, { skill: 'pillow', variants: {} }, [began, { type: 'ended', at: 3 }]);
    await theirs.skills.save('pillow', PILLOW(2, 'i shake the pillow'));
    await ours.skills.save('pillow', PILLOW(3, 'i beat the pillow'));
    const taken = await carry();
    expect(taken.skills).toEqual([{ id: 'pillow', version: 1, became: 'kept as a version' }]);
    expect((await ours.rehearsals.list())[0]).toMatchObject({ id, version: 1, note: '' });
    expect(await ours.skills.source('pillow')).toBe(PILLOW(3, 'i beat the pillow'));
    expect((await carry()).skills).toEqual([]);
    // Those of the program are everywhere.
    const third = await machine(given);
    await rehearsed(third);
    expect((await third.carrier.make(file(), EVERYTHING)).manifest.skills).toEqual([]);
    await third.remove();
  });

  it('that are not here can be marked by, and what differs under the same version here stays', async () => {
    await theirs.skills.save('pillow', PILLOW(1, 'i fluff the pillow'));
    const began = { type: 'began', skill: 'pillow', variants: {} } as const;
    await rehearsed(theirs, { skill: 'pillow', variants: {} }, [began, { type: 'ended', at: 3 }]);
    await carry();
    // Shared steps come along as they were.
    const carried = ours.skills.library.versions.get('pillow')?.get(1);
    expect(carried).toEqual(theirs.skills.library.skills.get('pillow'));
    expect((await ours.rehearsals.list())[0]).toMatchObject({ version: 1, of: 2, note: '' });
    expect(ours.skills.library.skills.has('pillow')).toBe(false);
    const third = await machine();
    await third.skills.save('pillow', PILLOW(1, 'i beat the pillow'));
    expect((await carry(theirs, third)).skills).toEqual([
      { id: 'pillow', version: 1, became: 'differs here' },
    ]);
    expect(await third.skills.source('pillow')).toBe(PILLOW(1, 'i beat the pillow'));
    await third.remove();
  });
});

type Change = (
  attempt: CarriedAttempt,
  journal: string,
) => { attempt?: Partial<CarriedAttempt>; journal?: string };

/** Makes the bundle again with its one attempt, or the journal of it, changed. */
async function changed(change: Change): Promise<void> {
  const bundle = await openBundle(file());
  const { attempts, skills } = bundle.manifest;
  for (const attempt of attempts) {
    const read = (name: AttemptFile): Promise<Buffer> => bundle.read(entryOf(attempt.record, name));
    const journal = (await read('journal.jsonl')).toString();
    const { attempt: otherwise, journal: other = journal } = change(attempt, journal);
    const files = [
      { path: 'journal.jsonl', content: Buffer.from(other) },
      { path: 'sound.flac', content: await read('sound.flac') },
    ] as const;
    await writeBundle(file(), [{ ...attempt, ...otherwise, files }], skills);
  }
  await bundle.close();
}
const OTHER_ID = 'f2b0c9a4-5b3e-4f1d-8a53-1df1c0a1b2c3';

describe('a bundle that is whole but wrong', () => {
  it.each<[string, RegExp, Change]>([
    ['names somebody else than its journal', /names somebody else/, ({ trainee }) => ({ attempt: { trainee: trainee && { ...trainee, id: OTHER_ID } } })],
    ['has sound that nobody agreed to', /nobody agreed/, ({ trainee }) => ({ attempt: { trainee: trainee && { ...trainee, consent: null } } })],
    ['has sound though its journal says that there is none', /nobody agreed/, (_, journal) => ({ journal: journal.replace('"schema":1', '"schema":1,"withoutSound":true') })],
    ['has a name that does not fit when it began', /its name does not fit/, () => ({ attempt: { record: '20260131T093000Z-hand-washing' } })],
    ['has a journal without a header', /A rehearsal in the file cannot be read.*journal.jsonl:1/, (_, journal) => ({ journal: journal.replace('"schema":1', '"schema":2') })],
    ['has an empty journal', /its journal is empty/, () => ({ journal: '' })],
  ])('is refused where it %s, and nothing is written', async (_, message, change) => {
    const kim = await person(theirs, 'Kim');
    await rehearsed(theirs, { trainee: kim.id });
    await theirs.carrier.make(file(), EVERYTHING);
    await changed(change);
    const before = await treeOf(ours.data);
    await expect(ours.carrier.takeIn(file())).rejects.toThrow(message);
    expect(await treeOf(ours.data)).toEqual(before);
  }); // prettier-ignore

  it('is refused as a whole, though only the last of its rehearsals is damaged', async () => {
    for (const day of ['01', '02', '03']) await rehearsed(theirs, { startedAt: `2026-02-${day}T09:30:00Z` });
    await theirs.carrier.make(file(), EVERYTHING);
    const bytes = await readFile(file());
    const at = bytes.lastIndexOf('fLaC');
    bytes.writeUInt8(bytes.readUInt8(at + 60) ^ 1, at + 60);
    await writeFile(file(), bytes);
    await expect(ours.carrier.takeIn(file())).rejects.toMatchObject({ reason: 'tampered' });
    expect(await treeOf(ours.data)).toEqual({});
  });
});

describe('taking in that is broken off', () => {
  it('before it is settled leaves nothing behind, afterwards it is gone on with at the next start', async () => {
    const kim = await person(theirs, 'Kim');
    const reviewed = await rehearsed(theirs, { trainee: kim.id, startedAt: '2026-02-01T09:30:00Z' });
    await carry();
    const fresh = await rehearsed(theirs, { trainee: kim.id, startedAt: '2026-02-02T09:30:00Z' });
    await theirs.rehearsals.addReview(reviewed, [verdict('greet')], NOW);
    const before = await treeOf(ours.data);
    const root = path.join(ours.data, 'rehearsals');

    for (const isSettled of [false, true]) {
      const staging = await Staging.begin(root);
      const whole = await staging.whole(fresh);
      const parts = await staging.parts(reviewed);
      await cp(kept(theirs, fresh), whole, { recursive: true });
      await cp(path.join(kept(theirs, reviewed), 'journal.jsonl'), path.join(parts, 'journal.jsonl'));
      if (isSettled) await staging.settle({ people: [{ ...kim, id: OTHER_ID }], skills: [] });
      const again = await openMachine(ours.data, { skills: given });
      if (isSettled) {
        // It was killed after the first step.
        const [name = ''] = (await readdir(root)).filter((each) => each.startsWith('.placing-'));
        await rename(path.join(root, name, 'whole', fresh), path.join(root, fresh));
      }
      await again.carrier.goOn();
      await again.rehearsals.tidy();
      if (!isSettled) expect(await treeOf(ours.data)).toEqual(before);
    }
    expect((await readdir(root)).filter((name) => name.startsWith('.'))).toEqual([]);
    expect((await ours.rehearsals.read(reviewed)).events.at(-1)).toEqual(verdict('greet'));
    expect(await ours.rehearsals.read(fresh)).toEqual(await theirs.rehearsals.read(fresh));
    expect((await ours.people.read()).trainees).toHaveLength(2);
  }); // prettier-ignore

  it('by a review that is made here meanwhile changes nothing', async () => {
    const id = await rehearsed(theirs);
    await carry();
    await theirs.rehearsals.addReview(id, [verdict('greet')], NOW);
    await theirs.carrier.make(file(), EVERYTHING);
    const journal = path.join(kept(ours, id), 'journal.jsonl');
    const isCompared = async (): Promise<boolean> =>
      (await readdir(path.join(ours.data, 'rehearsals'), { recursive: true })).some((name) =>
        /bundle-\w+\/parts\/.*journal/.test(name),
      );
    let taking: Promise<unknown> = Promise.resolve();
    await ours.rehearsals.hold([id], async () => {
      taking = ours.carrier.takeIn(file()).catch((error: unknown) => error);
      await expect.poll(isCompared).toBe(true);
      await appendFile(journal, `${JSON.stringify(verdict('wet'))}\n`);
    });
    expect(await taking).toBeInstanceOf(ChangedHere);
    expect((await ours.rehearsals.read(id)).events).toEqual([...REHEARSED, verdict('wet')]);
    expect(became(await ours.carrier.takeIn(file()))).toEqual(['reviews added']);
  });
});
