import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { Carrier } from '../../app/carrying/carrier.ts';
import type { Place } from '../../app/carrying/staging.ts';
import { SkillFolder } from '../../app/library/skillFolder.ts';
import type { RehearsalEvent, ReviewEvent } from '../../app/marking/events.ts';
import { PeopleFile } from '../../app/people/peopleFile.ts';
import type { Trainee } from '../../app/people/trainee.ts';
import type { Header } from '../../app/records/header.ts';
import { Rehearsals } from '../../app/records/rehearsals.ts';

/** A machine with a data folder of its own. */
export interface Machine extends Place {
  readonly data: string;
  readonly carrier: Carrier;
  readonly remove: () => Promise<void>;
}

/** When rehearsals are made and carried: some days after the first of them, ms since 1970. */
export const NOW = Date.parse('2026-02-10T12:00:00Z');

/** @param skills those of the program, where the machine gets none of its own: they take a while to read */
export async function machine(skills?: SkillFolder): Promise<Machine> {
  const data = await mkdtemp(path.join(tmpdir(), 'sinkside-machine-'));
  return { ...(await openMachine(data, { skills })), remove: () => rm(data, { recursive: true }) };
}

/** The same machine, as after another start. */
export async function openMachine(
  data: string,
  { now = NOW, skills }: { now?: number; skills?: SkillFolder | undefined } = {},
): Promise<Omit<Machine, 'remove'>> {
  const folder = skills ?? (await SkillFolder.open(data));
  const place: Place = {
    rehearsals: new Rehearsals(data, folder.library),
    people: new PeopleFile(data),
    skills: folder,
  };
  return { ...place, data, carrier: new Carrier(place, () => now) };
}

/** The skills of the program alone. */
export const givenSkills = (): Promise<SkillFolder> =>
  SkillFolder.open(path.join(tmpdir(), 'sinkside-no-data'));

/** A person who agreed that sound is kept. */
export async function person(
  { people }: Place,
  name: string,
  agreed = true,
  group = 'Spring',
): Promise<Trainee> {
  const { id } = await people.add({ name, class: group });
  await people.decide(id, agreed, NOW);
  return people.trainee(id);
}

const EVIDENCE = { utterance: 0, text: 'good morning', start: 1, end: 2, score: 1 };
export const REHEARSED: readonly RehearsalEvent[] = [
  { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } },
  { type: 'credited', step: 'greet', evidence: EVIDENCE },
  { type: 'ended', at: 3 },
];

/** Keeps a rehearsal; gives its id. */
export async function rehearsed(
  { rehearsals }: Place,
  more: Partial<Omit<Header, 'schema'>> = {},
  events = REHEARSED,
  sound: Uint8Array = SOUND,
): Promise<string> {
  const begun = { skill: 'hand-washing', version: 1, variants: { tap: 'lever' }, style: 'coach', engine: 'test' } as const;
  const { id, writer } = await rehearsals.create({ ...begun, startedAt: '2026-02-01T09:30:00.250Z', ...more });
  if (!more.withoutSound) await rehearsals.addSound(id, 0, sound, writer);
  await rehearsals.addEvents(id, 0, events, writer);
  return id;
} // prettier-ignore

/** Half a second of something. */
export const SOUND = Uint8Array.from({ length: 16_000 }, (_, i) => (i % 2 === 0 ? (i * 7) % 250 : 0));

export const verdict = (
  step: string,
  by = 'R. Ortega',
  madeAt = '2026-02-03T08:00:00.000Z',
): ReviewEvent => ({
  type: 'reviewed',
  by,
  madeAt,
  skill: 0,
  step,
  verdict: 'yes',
  reason: '',
  heardAt: null,
  blind: false,
});

/**
 * All that lies under a folder, with its content, but for tokens, which differ each time, the index, which follows from the rest, and the
 * folder of all rehearsals, which may be empty.
 */
export async function treeOf(folder: string): Promise<Record<string, string>> {
  const tree: Record<string, string> = {};
  for (const entry of await readdir(folder, { recursive: true, withFileTypes: true })) {
    const file = path.join(entry.parentPath, entry.name);
    const name = path.relative(folder, file);
    if (/(^|\/)(writer|index[^/]*|in-use\.json|rehearsals)$/.test(name)) continue;
    tree[name] = entry.isFile() ? (await readFile(file)).toString('base64') : 'no file';
  }
  return tree;
}
