import { readdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { replaceFile, textIfThere } from '../../disk/wholeFile.ts';
import { programStamp } from '../programStamp.ts';
import { IndexFileSchema, type Entry } from './entry.ts';

/** The index of older programs was one file: it was written whole for every rehearsal. */
const INDEX_FILE = /^index(-\d{6})?\.json$/;

/** The month in which a rehearsal began, as its id begins with it: `202601`. */
const monthOf = (id: string): string => id.slice(0, 6);

/**
 * The index on disk: one file for each month in which rehearsals began, so that keeping one more costs what a month costs, not all
 * years. A file that is damaged, or was made by another program, is taken away: it may tell of what is deleted next, and nobody would
 * look for it there.
 */
export class IndexFiles {
  private program = '';
  private readonly changed = new Set<string>();
  /** What is written follows what was written before. */
  private turn: Promise<void> = Promise.resolve();

  /** @param root the folder of all rehearsals */
  constructor(private readonly root: string) {}

  /** All entries that are kept and of use, by id. Others are served meanwhile. */
  async load(): Promise<Map<string, Entry>> {
    this.program = await programStamp();
    const entries = new Map<string, Entry>();
    const names = await readdir(this.root).catch(() => []);
    for (const name of names.filter((each) => INDEX_FILE.test(each))) {
      const file = path.join(this.root, name);
      const index = IndexFileSchema.safeParse(jsonOf(await textIfThere(file).catch(() => null)));
      if (index.success && index.data.program === this.program)
        for (const [id, entry] of Object.entries(index.data.entries)) entries.set(id, entry);
      else await rm(file, { force: true }).catch(() => undefined);
      await setImmediate();
    }
    return entries;
  }

  /** The file that a rehearsal is in must be written again. */
  touch(id: string): void {
    this.changed.add(monthOf(id));
  }

  /** Writes what has changed. Where it cannot be written, nothing but time is lost. */
  save(entries: ReadonlyMap<string, Entry>): Promise<void> {
    this.turn = this.turn.then(() => this.saveNow(entries));
    return this.turn;
  }

  private async saveNow(entries: ReadonlyMap<string, Entry>): Promise<void> {
    if (this.changed.size === 0) return;
    const months = new Map([...this.changed].map((month) => [month, {} as Record<string, Entry>]));
    this.changed.clear();
    for (const [id, entry] of entries) {
      const month = months.get(monthOf(id));
      if (month) month[id] = entry;
    }
    for (const [month, own] of months) {
      const file = path.join(this.root, `index-${month}.json`);
      const write =
        Object.keys(own).length === 0
          ? rm(file, { force: true })
          : replaceFile(file, JSON.stringify({ program: this.program, entries: own }));
      // Rather none than one that tells of what was deleted.
      await write.catch(() => rm(file, { force: true }).catch(() => undefined));
    }
  }
}

function jsonOf(text: string | null): unknown {
  try {
    return JSON.parse(text ?? '');
  } catch {
    return null;
  }
}
