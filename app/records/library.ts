import { readdir, readFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { FaultyFile, type Fault } from '../rehearsal/faults.ts';
import {
  parseCare,
  parseForm,
  parseLexicon,
  parseNarration,
  parseRules,
  parseSkill,
} from '../rehearsal/skillFile.ts';
import type { Form } from '../rehearsal/form.ts';
import type { Narration } from '../rehearsal/narration.ts';
import type { Shelf } from '../rehearsal/testPlan.ts';
import type { Care, Lexicon, Rules, Skill } from '../rehearsal/skill.ts';

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
  /** The rules of a plain rehearsal. */
  readonly rules: Rules;
  /** All rules by their ids. */
  readonly ruleSets: ReadonlyMap<string, Rules>;
  readonly forms: ReadonlyMap<string, Form>;
  readonly skills: ReadonlyMap<string, Skill>;
  /** What is wrong with the files that could not be used; the others are there all the same. */
  readonly faults: readonly Fault[];
}

/** Rules by which a rehearsal of one skill is marked. */
const PLAIN_RULES = 'practice';

const NOT_SKILLS = new Set(['lexicon.yaml', 'care.yaml']);

/**
 * Reads a folder of skill files. A school's folder may bring a lexicon, shared steps of care, rules and forms, which are
 * added to ours or replace them; what it leaves out comes from the program's own folder. A faulty file is reported in
 * `faults` and left out.
 *
 * @throws {FaultyFile} the folder cannot be read or holds no skill file
 */
export async function openLibrary(folder: string = SHIPPED_SKILLS): Promise<Library> {
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
  const names = await readdir(folder).catch((error: NodeJS.ErrnoException) => {
    const why =
      error.code === 'ENOENT'
        ? 'there is no such folder'
        : error.code === 'ENOTDIR'
          ? 'it is a file'
          : error.message;
    throw new FaultyFile([
      { file: folder, line: 1, column: 1, field: '', message: `cannot be read: ${why}` },
    ]);
  });
  const files = names.filter((n) => /\.ya?ml$/.test(n) && !NOT_SKILLS.has(n)).sort();
  if (files.length === 0) {
    throw new FaultyFile([
      { file: folder, line: 1, column: 1, field: '', message: 'holds no skill file (*.yaml)' },
    ]);
  }
  const textOf = (file: string): Promise<string> => readFile(file, 'utf8');
  const shared = async <T>(
    name: string,
    parse: (file: string, source: string) => T,
  ): Promise<T | undefined> => {
    if (!names.includes(name)) return undefined;
    const file = path.join(folder, name);
    const source = await textOf(file);
    return attempt(() => parse(file, source));
  };
  const shipped = async <T>(name: string, parse: (file: string, source: string) => T): Promise<T> => {
    const file = path.join(SHIPPED_SKILLS, name);
    return parse(file, await textOf(file));
  };

  const ours = await shipped('lexicon.yaml', parseLexicon);
  const isShipped = path.resolve(folder) === path.resolve(SHIPPED_SKILLS);
  const theirs = isShipped ? undefined : await shared('lexicon.yaml', parseLexicon);
  const lexicon: Lexicon = { schema: 1, slots: { ...ours.slots, ...theirs?.slots } };
  /** Ours, and the school's added to them or in their place. */
  const each = async <T extends { id: string }>(
    part: string,
    parse: (file: string, source: string) => T,
  ): Promise<Map<string, T>> => {
    const found = new Map<string, T>();
    for (const root of isShipped ? [SHIPPED_SKILLS] : [SHIPPED_SKILLS, folder]) {
      for (const file of await yamlFilesIn(path.join(root, part))) {
        const source = await textOf(file);
        const read = attempt(() => parse(file, source));
        if (read) found.set(read.id, read);
      }
    }
    return found;
  };
  const ruleSets = await each('rules', parseRules);
  const rules = ruleSets.get(PLAIN_RULES)!;
  const forms = await each('forms', parseForm);

  const parseOurCare = (file: string, source: string): Care => parseCare(file, source, lexicon);
  const ourCare = await shipped('care.yaml', parseOurCare);
  const theirCare = isShipped ? undefined : await shared('care.yaml', parseOurCare);
  const replaced = new Set(theirCare?.steps.map(({ id }) => id));
  const care: Care = {
    schema: 1,
    steps: [...ourCare.steps.filter(({ id }) => !replaced.has(id)), ...(theirCare?.steps ?? [])],
  };

  const skills = new Map<string, Skill>();
  const from = new Map<string, string>();
  for (const name of files) {
    const file = path.join(folder, name);
    const source = await textOf(file);
    const skill = attempt(() => parseSkill(file, source, lexicon, care));
    if (!skill) continue;
    const other = from.get(skill.id);
    if (other !== undefined) {
      faults.push({
        file,
        line: 1,
        column: 1,
        field: 'id',
        message: `duplicate id "${skill.id}": ${other} has it already`,
      });
      continue;
    }
    skills.set(skill.id, skill);
    from.set(skill.id, name);
  }
  for (const { id, rules: wanted } of forms.values())
    if (!ruleSets.has(wanted))
      faults.push({
        file: path.join(folder, 'forms'),
        line: 1,
        column: 1,
        field: 'rules',
        message: `the form "${id}" is marked by "${wanted}", and there are no such rules; there is: ${[...ruleSets.keys()].join(', ')}`,
      });
  return { folder, lexicon, rules, ruleSets, forms, skills, faults };
}

/** The YAML files of a folder, by name; none where there is no such folder. */
async function yamlFilesIn(folder: string): Promise<string[]> {
  const names = await readdir(folder).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return [];
    throw error;
  });
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
