import { access, mkdir, readFile, rename } from 'node:fs/promises';
import path from 'node:path';
import { parseDocument } from 'yaml';
import { cuesOf } from '../skills/checklist.ts';
import { slotsOf } from '../matching/cue.ts';
import { FaultyFile, type Fault } from '../faults/faults.ts';
import { IdSchema, type Lexicon, type Skill } from '../skills/skill.ts';
import { parseLexicon, parseNarration, parseSkill, placesIn } from '../authoring/skillFile.ts';
import { NarrationNameSchema, parsePack, type SkillPack } from '../authoring/skillPack.ts';
import { keptVersions, NOT_SKILLS, openLibrary, type Library } from './library.ts';
import { namesIn } from './reader.ts';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';

/** There is no skill of that id, or no such version of it. */
export class UnknownSkill extends Error {
  override readonly name = 'UnknownSkill';
}

/** A skill as the editor lists it. */
export interface ListedSkill {
  readonly id: string;
  /** Its id where it cannot be read. */
  readonly title: string;
  /** Null where it cannot be read. */
  readonly version: number | null;
  /** Whether it lies in the school's own folder. */
  readonly own: boolean;
}

/** A version of a skill from another machine, with the wordings that its cues use. */
export interface CarriedVersion {
  readonly id: string;
  readonly version: number;
  readonly source: string;
  readonly slots: Lexicon['slots'];
}

/**
 * The skills that a school writes itself, in the folder `skills` of the data folder: its skill files, `lexicon.yaml`,
 * `narrations`, and earlier versions as `versions/ID/N.yaml`. Everything is checked before it is written, and written whole.
 */
export class SkillFolder {
  /** Writes follow one another: each is checked against what the one before has left. */
  private writing: Promise<unknown> = Promise.resolve();

  private constructor(
    private readonly own: string,
    /** What there is to rehearse: one object, always as it is at this moment. */
    readonly library: Library,
  ) {}

  /**
   * Opens the own skills of a data folder beside a folder of given ones. The folder is made by the first save.
   *
   * @throws {FaultyFile} the given folder cannot be read
   */
  static async open(data: string, given?: string): Promise<SkillFolder> {
    const own = path.join(data, 'skills');
    return new SkillFolder(own, await openLibrary(given, own));
  }

  /** Every skill, and every own file that cannot be read, which is there to be put right. */
  async list(): Promise<ListedSkill[]> {
    const { skills } = this.library;
    const known = [...skills.values()].map(({ id, title, version }) => ({
      id,
      title,
      version,
      own: this.isOwn(id),
    }));
    const names = await namesIn(this.own);
    const unread = names
      .filter((name) => name.endsWith('.yaml') && !NOT_SKILLS.has(name))
      .map((name) => name.slice(0, -'.yaml'.length))
      .filter((id) => IdSchema.safeParse(id).success && !this.filed(`${id}.yaml`));
    return [
      ...known.filter(({ id }) => !unread.includes(id)),
      ...unread.map((id) => ({ id, title: skills.get(id)?.title ?? id, version: null, own: true })),
    ];
  }

  /** A skill's YAML as it stands in its file. Throws {@link UnknownSkill}. */
  async source(id: string): Promise<string> {
    const file = await this.fileOf(id);
    if (file === undefined) throw new UnknownSkill(`There is no skill "${id}".`);
    return readFile(file, 'utf8');
  }

  /** The YAML of an earlier version. Throws {@link UnknownSkill}. */
  async versionSource(id: string, version: number): Promise<string> {
    const kept = (await keptVersions(this.own)).find((v) => v.id === id && v.version === version);
    if (!kept) throw new UnknownSkill(`Version ${version} of "${id}" is not kept.`);
    return readFile(kept.file, 'utf8');
  }

  /** The earlier versions of a skill that are kept and can be read, the newest first. */
  versionsOf(id: string): Skill[] {
    return [...(this.library.versions.get(id)?.values() ?? [])].sort((a, b) => b.version - a.version);
  }

  /**
   * Writes a skill, and keeps the version before it.
   *
   * @param fresh whether it must be a new one
   * @throws {FaultyFile} it cannot be used, its version does not go up though what is marked has changed, or it does not
   *   say what has changed; nothing is written then
   */
  save(id: string, source: string, fresh = false): Promise<Skill> {
    return this.inTurn(async () => {
      const file = `${id}.yaml`;
      const skill = parseSkill(file, source, this.library.lexicon, this.library.care);
      const faults = await this.saveFaults(id, file, source, skill, fresh);
      if (faults.length > 0) throw new FaultyFile(faults);
      await this.put(skill, source);
      await this.reload();
      return skill;
    });
  }

  /** Writes a narration of a skill. Throws {@link FaultyFile}; nothing is written then. */
  saveNarration(name: string, source: string): Promise<void> {
    return this.inTurn(async () => {
      const faults = narrationFaults(name, name, source, new Set(this.library.skills.keys()));
      if (faults.length > 0) throw new FaultyFile(faults);
      await this.putNarration(name, source);
    });
  }

  /** Skills with all they need elsewhere. Throws {@link UnknownSkill}. */
  async export(ids: readonly string[]): Promise<SkillPack> {
    const skills: SkillPack['skills'] = [];
    const slots = new Set<string>();
    for (const id of ids) {
      const skill = this.library.skills.get(id);
      if (!skill) throw new UnknownSkill(`There is no skill "${id}" that can be read.`);
      skills.push({ id, source: await this.source(id) });
      skill.steps
        .flatMap((step) => cuesOf(step).flatMap(({ cues }) => cues.flatMap(slotsOf)))
        .forEach((s) => slots.add(s));
    }
    const narrations: SkillPack['narrations'] = [];
    for (const folder of [this.library.folder, this.own]) {
      for (const name of (await namesIn(path.join(folder, 'narrations'))).sort()) {
        if (!NarrationNameSchema.safeParse(name).success) continue;
        const source = await readFile(path.join(folder, 'narrations', name), 'utf8');
        if (!ids.includes(skillNamedIn(source))) continue;
        const same = narrations.findIndex((n) => n.name === name);
        narrations.splice(same < 0 ? narrations.length : same, 1, { name, source });
      }
    }
    const { slots: all } = this.library.lexicon;
    const lexicon = Object.fromEntries(
      [...slots].sort().flatMap((slot) => (all[slot] ? [[slot, all[slot]] as const] : [])),
    );
    return { kind: 'sinkside-skills', schema: 1, skills, lexicon, narrations };
  }

  /**
   * Takes in a pack, all of it or nothing. Wordings are added to the lexicon, none is taken away.
   *
   * @param replace whether what is newer here, or differs under the same version, is to be replaced; it is kept as a version
   * @throws {FaultyFile} every fault of the pack, with its place
   */
  import(text: string, replace = false): Promise<{ skills: string[]; narrations: string[] }> {
    return this.inTurn(async () => {
      const pack = parsePack('pack', text);
      const ownLexicon = await this.ownLexicon();
      const added = addedSlots(this.library.lexicon, pack.lexicon);
      const lexicon: Lexicon = { schema: 1, slots: { ...this.library.lexicon.slots, ...added } };
      const faults: Fault[] = [];
      const skills: { skill: Skill; source: string }[] = [];
      for (const { id, source } of pack.skills) {
        const file = `pack: ${id}.yaml`;
        const at = placesIn(file, source);
        try {
          const skill = parseSkill(file, source, lexicon, this.library.care);
          const here = this.library.skills.get(id);
          if (skill.id !== id) faults.push(at(['id'], `the pack calls it "${id}"; the two must be one`));
          else if (skills.some((other) => other.skill.id === id))
            faults.push(at(['id'], 'the pack has it twice'));
          else if (here && !replace && here.version > skill.version)
            faults.push(
              at(['version'], `version ${here.version} is here already, which is newer; ask to replace it`),
            );
          else if (here && !replace && here.version === skill.version && isMarkedOtherwise(here, skill))
            faults.push(
              at(['version'], `another version ${here.version} is here already; ask to replace it`),
            );
          skills.push({ skill, source });
        } catch (error) {
          if (!(error instanceof FaultyFile)) throw error;
          faults.push(...error.faults);
        }
      }
      const ids = new Set([...this.library.skills.keys(), ...pack.skills.map(({ id }) => id)]);
      for (const { name, source } of pack.narrations) {
        const file = `pack: ${name}`;
        faults.push(...narrationFaults(file, name, source, ids));
        const there = await textIfThere(path.join(this.own, 'narrations', name));
        if (there !== null && there !== source && !replace)
          faults.push(
            placesIn(file, source)([], 'another narration of that name is here; ask to replace it'),
          );
      }
      if (faults.length > 0) throw new FaultyFile(faults);

      // What others rest on is written first: broken off anywhere, what is there can be used.
      if (Object.keys(added).length > 0) {
        await mkdir(this.own, { recursive: true });
        await replaceFile(path.join(this.own, 'lexicon.yaml'), withSlots(ownLexicon, added));
      }
      for (const { skill, source } of skills) await this.put(skill, source);
      for (const { name, source } of pack.narrations) await this.putNarration(name, source);
      await this.reload();
      return {
        skills: skills.map(({ skill }) => skill.id),
        narrations: pack.narrations.map(({ name }) => name),
      };
    });
  }

  /**
   * Keeps skills as versions to mark by, beside what there is: nothing is replaced, and nobody rehearses under them. Wordings of slots
   * that are not here are added.
   */
  keepVersions(some: readonly CarriedVersion[]): Promise<void> {
    return this.inTurn(async () => {
      const ownLexicon = await this.ownLexicon();
      const missing = Object.entries(
        Object.assign({}, ...some.map(({ slots }) => slots)) as Lexicon['slots'],
      );
      const added = missing.filter(([name]) => !this.library.lexicon.slots[name]);
      if (added.length > 0) {
        await mkdir(this.own, { recursive: true });
        await replaceFile(
          path.join(this.own, 'lexicon.yaml'),
          withSlots(ownLexicon, Object.fromEntries(added)),
        );
      }
      for (const { id, version, source } of some) {
        const folder = path.join(this.own, 'versions', id);
        const file = path.join(folder, `${version}.yaml`);
        if ((await textIfThere(file)) !== null) continue;
        await mkdir(folder, { recursive: true });
        await replaceFile(file, source);
      }
      await this.reload();
    });
  }

  /** Waits until what is being written is on disk. */
  async settled(): Promise<void> {
    await this.writing.catch(() => undefined);
  }

  private async saveFaults(
    id: string,
    file: string,
    source: string,
    skill: Skill,
    fresh: boolean,
  ): Promise<Fault[]> {
    const at = placesIn(file, source);
    if (skill.id !== id)
      return [at(['id'], `this is the skill "${id}"; for one called "${skill.id}" begin a new one`)];
    if (fresh && (await this.fileOf(id)) !== undefined)
      return [at(['id'], `there is a skill "${id}" already; give this one another id`)];
    const before = this.library.skills.get(id);
    if (!before) return [];
    const newest = Math.max(before.version, ...this.versionsOf(id).map(({ version }) => version));
    if (skill.version < before.version)
      return [at(['version'], `version ${before.version} is here already; a version never goes down`)];
    if (skill.version === before.version) {
      if (!isMarkedOtherwise(before, skill)) return [];
      return [
        at(['version'], `what is marked has changed; make it version ${newest + 1} and say in "change" what`),
      ];
    }
    if (skill.version <= newest) return [at(['version'], `version ${newest} is kept; make it ${newest + 1}`)];
    if (skill.change === undefined || skill.change === before.change)
      return [at(['change'], `say in a sentence what version ${skill.version} changes`)];
    return [];
  }

  /** Writes a skill's file, and the version it replaces beside it first. */
  private async put(skill: Skill, source: string): Promise<void> {
    const { id } = skill;
    const before = this.library.skills.get(id);
    const fileBefore = this.library.files.get(id);
    const file = fileBefore && this.isOwn(id) ? fileBefore : path.join(this.own, `${id}.yaml`);
    await mkdir(this.own, { recursive: true });
    // A file that could not be read was opened to be put right, or is not known of: it stays beside.
    if (!this.filed(path.basename(file)) && (await access(file).then(yes, no)))
      await rename(file, `${file}.unread`);
    if (before && fileBefore && (before.version !== skill.version || isMarkedOtherwise(before, skill))) {
      const folder = path.join(this.own, 'versions', id);
      await mkdir(folder, { recursive: true });
      await replaceFile(path.join(folder, `${before.version}.yaml`), await readFile(fileBefore, 'utf8'));
    }
    await replaceFile(file, source);
  }

  private async putNarration(name: string, source: string): Promise<void> {
    const folder = path.join(this.own, 'narrations');
    await mkdir(folder, { recursive: true });
    await replaceFile(path.join(folder, name), source);
  }

  /** The text of the school's lexicon, checked; null where there is none. Throws {@link FaultyFile}. */
  private async ownLexicon(): Promise<string | null> {
    const file = path.join(this.own, 'lexicon.yaml');
    const text = await textIfThere(file);
    if (text !== null) parseLexicon(file, text);
    return text;
  }

  /** The file a skill is edited in: the school's own, even one that cannot be read, before a given one. */
  private async fileOf(id: string): Promise<string | undefined> {
    if (!IdSchema.safeParse(id).success) return undefined;
    if (this.isOwn(id)) return this.library.files.get(id);
    const file = path.join(this.own, `${id}.yaml`);
    const there = !NOT_SKILLS.has(`${id}.yaml`) && (await access(file).then(yes, no));
    return there ? file : this.library.files.get(id);
  }

  private isOwn(id: string): boolean {
    const file = this.library.files.get(id);
    return file !== undefined && path.dirname(file) === this.own;
  }

  /** Whether some skill was read from this file of the own folder. */
  private filed(name: string): boolean {
    return [...this.library.files.values()].includes(path.join(this.own, name));
  }

  private async reload(): Promise<void> {
    Object.assign(this.library, await openLibrary(this.library.folder, this.own));
  }

  private inTurn<T>(write: () => Promise<T>): Promise<T> {
    const turn = this.writing.then(write, write);
    this.writing = turn;
    return turn;
  }
}

/** Whether two versions of a skill can mark the same talk otherwise. */
export function isMarkedOtherwise(a: Skill, b: Skill): boolean {
  const marked = ({ steps, variants }: Skill): string => JSON.stringify([steps, variants]);
  return marked(a) !== marked(b);
}

/** The slots that wordings are added to, with all their wordings. */
function addedSlots(lexicon: Lexicon, slots: Lexicon['slots']): Lexicon['slots'] {
  return Object.fromEntries(
    Object.entries(slots).flatMap(([name, wordings]) => {
      const here = lexicon.slots[name] ?? [];
      const all = [...new Set([...here, ...wordings])];
      return all.length > here.length ? [[name, all]] : [];
    }),
  );
}

/** A lexicon's text with these slots in it; what else it says, comments too, stays. */
function withSlots(text: string | null, slots: Lexicon['slots']): string {
  const document = parseDocument(text ?? '# Wordings of this school.\nschema: 1\nslots: {}\n');
  for (const [name, wordings] of Object.entries(slots)) document.setIn(['slots', name], wordings);
  return document.toString({ lineWidth: 0 });
}

function narrationFaults(file: string, name: string, source: string, skills: ReadonlySet<string>): Fault[] {
  const at = placesIn(file, source);
  if (!NarrationNameSchema.safeParse(name).success)
    return [at([], `"${name}" is no name of a narration; use lower-case words, as "bed-1-all.yaml"`)];
  try {
    const { skill } = parseNarration(file, source);
    return skills.has(skill) ? [] : [at(['skill'], `there is no skill "${skill}"`)];
  } catch (error) {
    if (!(error instanceof FaultyFile)) throw error;
    return [...error.faults];
  }
}

/** The skill a narration says it is of; empty where it cannot be read. */
function skillNamedIn(source: string): string {
  try {
    return parseNarration('', source).skill;
  } catch (error) {
    if (error instanceof FaultyFile) return '';
    throw error;
  }
}

const yes = (): boolean => true;
const no = (): boolean => false;
