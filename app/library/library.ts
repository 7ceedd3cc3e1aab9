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
import { faultOf, LibraryReader, namesIn, yamlFilesIn, type Root } from './reader.ts';
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
  const names = await namesThere(folder);
  if (skillFiles(names).length === 0) throw new FaultyFile([faultOf(folder, 'holds no skill file (*.yaml)')]);
  const faults: Fault[] = [];
  const ownNames = await namesIn(own ?? '').catch((error: Error): string[] => {
    faults.push(faultOf(own ?? '', `cannot be read: ${error.message}`));
    return [];
  });
  const ownRoots = own === undefined ? [] : [{ root: own, names: ownNames }];
  const isShipped = path.resolve(folder) === path.resolve(SHIPPED_SKILLS);
  const reader = new LibraryReader(SHIPPED_SKILLS, [
    ...(isShipped ? [] : [{ root: folder, names }]),
    ...ownRoots,
  ]);

  const lexicons = await reader.all('lexicon.yaml', parseLexicon);
  const lexicon: Lexicon = { schema: 1, slots: Object.assign({}, ...lexicons.map(({ slots }) => slots)) };
  const ruleSets = await reader.each('rules', parseRules);
  const rules = ruleSets.get(PLAIN_RULES)!; // comes with the program, and is replaced only by its like
  const forms = await reader.each('forms', parseForm);
  const cares = await reader.all('care.yaml', (file, source) => parseCare(file, source, lexicon));
  const care: Care = { schema: 1, steps: cares.map(({ steps }) => steps).reduce(replaceById) };

  const parse = (file: string, source: string): Skill => parseSkill(file, source, lexicon, care);
  const { skills, files } = await readSkills([{ root: folder, names }, ...ownRoots], reader, parse);
  const versions = await readVersions(own, reader, parse);
  faults.push(...reader.faults, ...formFaults(folder, forms, ruleSets));
  return { folder, lexicon, care, rules, ruleSets, forms, skills, files, versions, faults };
}

async function namesThere(folder: string): Promise<string[]> {
  return readdir(folder).catch((error: NodeJS.ErrnoException) => {
    const known: Partial<Record<string, string>> = {
      ENOENT: 'there is no such folder',
      ENOTDIR: 'it is a file',
    };
    throw new FaultyFile([faultOf(folder, `cannot be read: ${known[error.code ?? ''] ?? error.message}`)]);
  });
}

type ParseSkill = (file: string, source: string) => Skill;

/** The skills of some folders and the files they were read from; a later folder's skill replaces an earlier one's. */
async function readSkills(roots: readonly Root[], reader: LibraryReader, parse: ParseSkill) {
  const skills = new Map<string, Skill>();
  const files = new Map<string, string>();
  for (const { root, names } of roots) {
    const here = new Map<string, string>();
    for (const name of skillFiles(names)) {
      const file = path.join(root, name);
      const skill = await reader.read(file, parse);
      if (!skill) continue;
      const other = here.get(skill.id);
      if (other !== undefined) {
        reader.faults.push(faultOf(file, `duplicate id "${skill.id}": ${other} has it already`, 'id'));
        continue;
      }
      here.set(skill.id, name);
      skills.set(skill.id, skill);
      files.set(skill.id, file);
    }
  }
  return { skills, files };
}

async function readVersions(own: string | undefined, reader: LibraryReader, parse: ParseSkill) {
  const versions = new Map<string, Map<number, Skill>>();
  for (const { id, version, file } of own === undefined ? [] : await keptVersions(own)) {
    const skill = await reader.read(file, parse);
    if (skill) versions.set(id, (versions.get(id) ?? new Map<number, Skill>()).set(version, skill));
  }
  return versions;
}

const formFaults = (folder: string, forms: Library['forms'], ruleSets: Library['ruleSets']): Fault[] =>
  [...forms.values()]
    .filter(({ rules }) => !ruleSets.has(rules))
    .map(({ id, rules }) =>
      faultOf(
        path.join(folder, 'forms'),
        `the form "${id}" is marked by "${rules}", and there are no such rules; there is: ${[...ruleSets.keys()].join(', ')}`,
        'rules',
      ),
    );

const skillFiles = (names: readonly string[]): string[] =>
  names.filter((n) => /\.ya?ml$/.test(n) && !NOT_SKILLS.has(n)).sort();

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
