import { createWriteStream } from 'node:fs';
import { mkdir, mkdtemp, readdir, readFile, rename, rm, utimes } from 'node:fs/promises';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { z } from 'zod';
import { flushFolder, statOf, textIfThere, writeFlushed } from '../disk/wholeFile.ts';
import { LexiconSchema, IdSchema } from '../skills/skill.ts';
import type { SkillFolder } from '../library/skillFolder.ts';
import type { PeopleFile } from '../people/peopleFile.ts';
import { TraineeSchema } from '../people/trainee.ts';
import { JOURNAL_FILE } from '../records/kept.ts';
import { PACKED_FILE, SOUND_FILE } from '../records/packing/keptSound.ts';
import { UNFINISHED, type Rehearsals } from '../records/rehearsals.ts';

/** Where what is taken in is put to. */
export interface Place {
  readonly rehearsals: Rehearsals;
  readonly people: PeopleFile;
  readonly skills: SkillFolder;
}

/** What is added beside rehearsals. */
const AddedSchema = z.object({
  people: z.array(TraineeSchema),
  skills: z.array(
    z.object({
      id: IdSchema,
      version: z.number().int().positive(),
      source: z.string(),
      slots: LexiconSchema.shape.slots,
    }),
  ),
});
export type Added = z.infer<typeof AddedSchema>;

/** What the name of a folder begins with whose content is settled, and goes to its place whatever happens. */
const SETTLED = '.placing-';
const ADDED_FILE = 'added.json';
/** Whole rehearsals, and files that replace those of rehearsals that are here. */
const WHOLE = 'whole';
const PARTS = 'parts';

/**
 * A folder in which all that is taken in is made ready. Its contents are what is to be done: until it is settled, nothing counts, and the
 * next start clears it away; from then on all goes to its place, where that is broken off at the next start. Each step may be done again.
 */
export class Staging {
  private constructor(
    private readonly root: string,
    private folder: string,
  ) {}

  /** Makes an empty one among the rehearsals. */
  static async begin(root: string): Promise<Staging> {
    await mkdir(root, { recursive: true });
    const staging = new Staging(root, await mkdtemp(path.join(root, `${UNFINISHED}bundle-`)));
    for (const part of [WHOLE, PARTS]) await mkdir(path.join(staging.folder, part));
    return staging;
  }

  /** A folder for a rehearsal that is not here. */
  whole(id: string): Promise<string> {
    return this.make(WHOLE, id);
  }

  /** A folder for files that replace those of a rehearsal that is here. */
  parts(id: string): Promise<string> {
    return this.make(PARTS, id);
  }

  /** From here on all of it is taken in, whatever happens. */
  async settle(added: Added): Promise<void> {
    await writeFlushed(path.join(this.folder, ADDED_FILE), JSON.stringify(added), 'wx');
    for (const part of [WHOLE, PARTS]) {
      const folder = path.join(this.folder, part);
      for (const id of await readdir(folder)) await flushFolder(path.join(folder, id));
      await flushFolder(folder);
    }
    await flushFolder(this.folder);
    const settled = path.join(this.root, SETTLED + path.basename(this.folder).slice(UNFINISHED.length));
    await rename(this.folder, settled);
    this.folder = settled;
    await flushFolder(this.root);
  }

  /** Brings all to its place. Gives the ids here of the whole rehearsals, by the ids that they were given. */
  place(place: Place): Promise<Map<string, string>> {
    return bringToPlace(this.folder, this.root, place);
  }

  /** Leaves nothing of it, unless it was settled. */
  async discard(): Promise<void> {
    if (path.basename(this.folder).startsWith(UNFINISHED))
      await rm(this.folder, { recursive: true, force: true });
  }

  private async make(part: string, id: string): Promise<string> {
    const folder = path.join(this.folder, part, id);
    await mkdir(folder);
    return folder;
  }
}

/** Goes on with what was settled and then broken off. Nothing else may be using the rehearsals. */
export async function placeSettled(place: Place): Promise<void> {
  const { root } = place.rehearsals;
  const names = await readdir(root).catch(() => []);
  for (const name of names.filter((each) => each.startsWith(SETTLED)))
    await bringToPlace(path.join(root, name), root, place);
}

/** Writes a stream into a new file and brings it to the disk. */
export async function writeStream(file: string, bytes: AsyncIterable<Uint8Array>): Promise<void> {
  await pipeline(bytes, createWriteStream(file, { flags: 'wx', flush: true }));
}

/** Dates all files of a folder: what changed just now would count as being rehearsed. */
export async function dateFiles(folder: string, moment: string): Promise<void> {
  const at = new Date(moment);
  for (const name of await readdir(folder)) await utimes(path.join(folder, name), at, at);
}

async function bringToPlace(
  folder: string,
  root: string,
  { people, skills }: Place,
): Promise<Map<string, string>> {
  const text = await textIfThere(path.join(folder, ADDED_FILE));
  if (text !== null) {
    const added = AddedSchema.parse(JSON.parse(text));
    if (added.skills.length > 0) await skills.keepVersions(added.skills);
    if (added.people.length > 0) await people.addMissing(added.people);
  }
  for (const id of await readdir(path.join(folder, PARTS)))
    await replaceParts(path.join(folder, PARTS, id), path.join(root, id));
  const ids = new Map<string, string>();
  for (const id of await readdir(path.join(folder, WHOLE)))
    ids.set(id, await moveToFree(path.join(folder, WHOLE, id), root, id));
  await flushFolder(root);
  await rm(folder, { recursive: true });
  return ids;
}

async function replaceParts(from: string, to: string): Promise<void> {
  const names = await readdir(from);
  const [sound] = names.filter((name) => name !== JOURNAL_FILE);
  if (sound !== undefined) {
    // The other kind goes first: where there are both, the WAV file counts.
    await rm(path.join(to, sound === SOUND_FILE ? PACKED_FILE : SOUND_FILE), { force: true });
    await rename(path.join(from, sound), path.join(to, sound));
  }
  if (names.includes(JOURNAL_FILE)) await rename(path.join(from, JOURNAL_FILE), path.join(to, JOURNAL_FILE));
  await flushFolder(to);
}

/** Moves a folder to a name that nothing has, the wished one where it can be. */
async function moveToFree(folder: string, root: string, wished: string): Promise<string> {
  for (let n = 1; ; n++) {
    const id = n === 1 ? wished : `${wished}-${n}`;
    if (await statOf(path.join(root, id))) continue;
    try {
      await rename(folder, path.join(root, id));
      return id;
    } catch (error) {
      // A rehearsal was begun under it just now.
      if (!['ENOTEMPTY', 'EEXIST', 'EPERM'].includes(String((error as NodeJS.ErrnoException).code)))
        throw error;
      if (!(await statOf(path.join(root, id)))) throw error;
    }
  }
}

/** The journal of a rehearsal's folder. */
export const readJournalBytes = (folder: string): Promise<Buffer> =>
  readFile(path.join(folder, JOURNAL_FILE));
