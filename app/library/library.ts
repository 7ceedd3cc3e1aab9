import { readdir, readFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { FaultyFile, type Fault } from '../faults/faults.ts';
import {
  parseCare,
  parseForm,
  parseLexicon,
  parseNarration,
  parseRules,
  parseSkill,
} from '../authoring/skillFile.ts';
import type { Form } from '../skills/form.ts';
import type { Narration } from '../run/narration.ts';
import type { Shelf } from '../run/testPlan.ts';
import type { Care, Lexicon, Rules, Skill } from '../skills/skill.ts';

/** What a mock test is planned from. */
export const shelfOf = ({ skills, lexicon, ruleSets, forms }: Library): Shelf => ({
  skills: [...skills.values()],
  lexicon,
  ruleSets: [...ruleSets.values()],
  forms: [...forms.values()],
});

/** The skills that come with the program. */
export const SHIPPED_SKILLS = fileURLToPath(new URL('../../skills/', import.meta.url));

/** A folder of skills with the lexicon and the rules they are marked by. */
export interface Library {
  readonly folder: string;
  readonly lexicon: Lexicon;
  readonly care: Care;
  /** The rules of a plain rehearsal. */
  readonly rules: Rules;
  /** All rules by their ids. */
  readonly ruleSets: ReadonlyMap<string, Rules>;
  readonly forms: ReadonlyMap<string, Form>;
  readonly skills: ReadonlyMap<string, Skill>;
  /** The file each skill was read from. */
  readonly files: ReadonlyMap<string, string>;
  /** Earlier versions of skills, by id and version. */
  readonly versions: ReadonlyMap<string, ReadonlyMap<number, Skill>>;
  /** What is wrong with the files that could not be used; the others are there all the same. */
  readonly faults: readonly Fault[];
}

/** A skill in a version of it: the present one where none is asked for or that one is not kept. */
export function skillAt(
  { skills, versions }: Pick<Library, 'skills' | 'versions'>,
  id: string,
  version?: number,
): Skill | undefined {
  const now = skills.get(id);
  if (version === undefined || now?.version === version) return now;
  return versions.get(id)?.get(version) ?? now;
}

/** Rules by which a rehearsal of one skill is marked. */
const PLAIN_RULES = 'practice';

/** Files of a folder of skills that are none. */
export const NOT_SKILLS: ReadonlySet<string> = new Set(['lexicon.yaml', 'care.yaml']);

/**
 * Reads a folder of skill files. A school's folder may bring a lexicon, shared steps of care, rules and forms, which are
 * added to ours or replace them; what it leaves out comes from the program's own folder. A faulty file is reported in
 * `faults` and left out.
 *
 * @param own the folder of skills written in this program, which may not be there yet: its files are added to those of
 *   `folder`, and one with the id of a skill there replaces it. Its `versions/ID/N.yaml` are earlier versions.
 * @throws {FaultyFile} the folder cannot be read or holds no skill file
 */
export async function openLibrary(folder: string = SHIPPED_SKILLS, own?: string): Promise<Library> {
  const faults: Fault[] = [];
  const attempt = <T>(parse: () => T): T | undefined => {
    try {
      return parse();
    } catch (error) {
      if (!(error instanceof FaultyFile)) throw error;
      faults.push(...error.faults);
      return undefined;
    }
  };
  const whole = (file: string, message: string): Fault => ({ file, line: 1, column: 1, field: '', message });
  const names = await readdir(folder).catch((error: NodeJS.ErrnoException) => {
    const known: Partial<Record<string, string>> = {
      ENOENT: 'there is no such folder',
      ENOTDIR: 'it is a file',
    };
    throw new FaultyFile([whole(folder, `cannot be read: ${known[error.code ?? ''] ?? error.message}`)]);
  });
  const files = skillFiles(names);
  if (files.length === 0) throw new FaultyFile([whole(folder, 'holds no skill file (*.yaml)')]);
  const ownNames = await namesIn(own ?? '').catch((error: Error): string[] => {
    faults.push(whole(own!, `cannot be read: ${error.message}`));
    return [];
  });
  const textOf = (file: string): Promise<string> => readFile(file, 'utf8');
  const shipped = async <T>(name: string, parse: (file: string, source: string) => T): Promise<T> => {
    const file = path.join(SHIPPED_SKILLS, name);
    return parse(file, await textOf(file));
  };
  const isShipped = path.resolve(folder) === path.resolve(SHIPPED_SKILLS);
  /** What a school says of its own, the later going before the earlier. */
  const roots = isShipped ? [] : [{ root: folder, names }];
  if (own !== undefined) roots.push({ root: own, names: ownNames });
  const theirs = async <T>(name: string, parse: (file: string, source: string) => T): Promise<T[]> => {
    const found: T[] = [];
    for (const { root, names: there } of roots) {
      if (!there.includes(name)) continue;
      const file = path.join(root, name);
      const source = await textOf(file);
      const value = attempt(() => parse(file, source));
      if (value !== undefined) found.push(value);
    }
    return found;
  };
  /** Ours, and the school's added to them or in their place. */
  const each = async <T extends { id: string }>(
    part: string,
    parse: (file: string, source: string) => T,
  ): Promise<Map<string, T>> => {
    const found = new Map<string, T>();
    for (const root of [SHIPPED_SKILLS, ...roots.map((school) => school.root)]) {
      for (const file of await yamlFilesIn(path.join(root, part))) {
        const source = await textOf(file);
        const read = attempt(() => parse(file, source));
        if (read) found.set(read.id, read);
      }
    }
    return found;
  };

  const lexicons = [
    await shipped('lexicon.yaml', parseLexicon),
    ...(await theirs('lexicon.yaml', parseLexicon)),
  ];
  const lexicon: Lexicon = { schema: 1, slots: Object.assign({}, ...lexicons.map(({ slots }) => slots)) };
  const ruleSets = await each('rules', parseRules);
  const rules = ruleSets.get(PLAIN_RULES)!; // comes with the program, and is replaced only by its like
  const forms = await each('forms', parseForm);

  const parseOurCare = (file: string, source: string): Care => parseCare(file, source, lexicon);
  const cares = [await shipped('care.yaml', parseOurCare), ...(await theirs('care.yaml', parseOurCare))];
  const care: Care = { schema: 1, steps: cares.map(({ steps }) => steps).reduce(replaceById) };

  const skills = new Map<string, Skill>();
  const from = new Map<string, string>();
  for (const [where, there] of [
    [folder, files],
    [own ?? '', skillFiles(ownNames)],
  ] as const) {
    const here = new Set<string>();
    for (const name of there) {
      const file = path.join(where, name);
      const source = await textOf(file);
      const skill = attempt(() => parseSkill(file, source, lexicon, care));
      if (!skill) continue;
      if (here.has(skill.id)) {
        const other = path.basename(from.get(skill.id)!);
        faults.push({ ...whole(file, `duplicate id "${skill.id}": ${other} has it already`), field: 'id' });
        continue;
      }
      here.add(skill.id);
      skills.set(skill.id, skill);
      from.set(skill.id, file);
    }
  }

  const versions = new Map<string, Map<number, Skill>>();
  const kept = own === undefined ? [] : await keptVersions(own);
  for (const { id, version, file } of kept) {
    const source = await textOf(file);
    const skill = attempt(() => parseSkill(file, source, lexicon, care));
    if (skill) versions.set(id, (versions.get(id) ?? new Map<number, Skill>()).set(version, skill));
  }
  for (const { id, rules: wanted } of forms.values())
    if (!ruleSets.has(wanted))
      faults.push({
        ...whole(
          path.join(folder, 'forms'),
          `the form "${id}" is marked by "${wanted}", and there are no such rules; there is: ${[...ruleSets.keys()].join(', ')}`,
        ),
        field: 'rules',
      });
  return { folder, lexicon, care, rules, ruleSets, forms, skills, files: from, versions, faults };
}

const skillFiles = (names: readonly string[]): string[] =>
  names.filter((n) => /\.ya?ml$/.test(n) && !NOT_SKILLS.has(n)).sort();

/** The names in a folder, none where it is not there. */
export async function namesIn(folder: string): Promise<string[]> {
  if (folder === '') return [];
  return readdir(folder).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT' || error.code === 'ENOTDIR') return [];
    throw error;
  });
}

const replaceById = (ours: Care['steps'], theirs: Care['steps']): Care['steps'] => [
  ...ours.filter(({ id }) => !theirs.some((other) => other.id === id)),
  ...theirs,
];

/** The earlier versions kept in a folder of the school's own skills, lowest first. */
export async function keptVersions(own: string): Promise<{ id: string; version: number; file: string }[]> {
  const root = path.join(own, 'versions');
  const kept: { id: string; version: number; file: string }[] = [];
  for (const id of (await namesIn(root)).sort()) {
    for (const name of await namesIn(path.join(root, id))) {
      const version = Number(/^([1-9]\d*)\.yaml$/.exec(name)?.[1]);
      if (version > 0) kept.push({ id, version, file: path.join(root, id, name) });
    }
  }
  return kept.sort((a, b) => a.id.localeCompare(b.id) || a.version - b.version);
}

/** The YAML files of a folder, by name; none where there is no such folder. */
async function yamlFilesIn(folder: string): Promise<string[]> {
  const names = await namesIn(folder);
  return names
    .filter((name) => /\.ya?ml$/.test(name))
    .sort()
    .map((name) => path.join(folder, name));
}

/** A narration, and where it was read. */
export interface FiledNarration extends Narration {
  readonly file: string;
}

/**
 * Reads the narrations of a folder of skills; none where it has no folder `narrations`.
 *
 * @throws {FaultyFile} with the faults of all files
 */
export async function readNarrations(skills: string = SHIPPED_SKILLS): Promise<FiledNarration[]> {
  const faults: Fault[] = [];
  const narrations: FiledNarration[] = [];
  for (const file of await yamlFilesIn(path.join(skills, 'narrations'))) {
    try {
      narrations.push({ ...parseNarration(file, await readFile(file, 'utf8')), file });
    } catch (error) {
      if (!(error instanceof FaultyFile)) throw error;
      faults.push(...error.faults);
    }
  }
  if (faults.length > 0) throw new FaultyFile(faults);
  return narrations;
}
