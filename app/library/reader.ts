import { readdir, readFile } from 'node:fs/promises';
import path from 'node:path';
import { FaultyFile, type Fault } from '../faults/faults.ts';

/** A folder of a school's files, and the names in it. */
export interface Root {
  readonly root: string;
  readonly names: readonly string[];
}

type Parse<T> = (file: string, source: string) => T;

/** Reads the program's files and the school's that are added to them. Faulty files are left out and their faults kept. */
export class LibraryReader {
  readonly faults: Fault[] = [];

  /**
   * @param shipped the program's own folder
   * @param roots the school's, the later going before the earlier
   */
  constructor(
    private readonly shipped: string,
    private readonly roots: readonly Root[],
  ) {}

  /** What a file holds; undefined where it is faulty. */
  async read<T>(file: string, parse: Parse<T>): Promise<T | undefined> {
    const source = await readFile(file, 'utf8');
    try {
      return parse(file, source);
    } catch (error) {
      if (!(error instanceof FaultyFile)) throw error;
      this.faults.push(...error.faults);
      return undefined;
    }
  }

  /** The program's file of a name, which is never faulty, and then the school's. */
  async all<T>(name: string, parse: Parse<T>): Promise<T[]> {
    const file = path.join(this.shipped, name);
    const found = [parse(file, await readFile(file, 'utf8'))];
    for (const { root, names } of this.roots) {
      if (!names.includes(name)) continue;
      const value = await this.read(path.join(root, name), parse);
      if (value !== undefined) found.push(value);
    }
    return found;
  }

  /** All files of a folder in each root, by their ids: the school's are added to the program's or replace them. */
  async each<T extends { id: string }>(part: string, parse: Parse<T>): Promise<Map<string, T>> {
    const found = new Map<string, T>();
    for (const root of [this.shipped, ...this.roots.map((school) => school.root)]) {
      for (const file of await yamlFilesIn(path.join(root, part))) {
        const read = await this.read(file, parse);
        if (read) found.set(read.id, read);
      }
    }
    return found;
  }
}

/** A fault of a whole file or folder. */
export const faultOf = (file: string, message: string, field = ''): Fault => ({
  file,
  line: 1,
  column: 1,
  field,
  message,
});

/** The names in a folder, none where it is not there. */
export async function namesIn(folder: string): Promise<string[]> {
  if (folder === '') return [];
  return readdir(folder).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT' || error.code === 'ENOTDIR') return [];
    throw error;
  });
}

/** The YAML files of a folder, by name; none where there is no such folder. */
export async function yamlFilesIn(folder: string): Promise<string[]> {
  const names = await namesIn(folder);
  return names
    .filter((name) => /\.ya?ml$/.test(name))
    .sort()
    .map((name) => path.join(folder, name));
}
