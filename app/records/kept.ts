import { open } from 'node:fs/promises';
import path from 'node:path';
import { statOf } from '../disk/wholeFile.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { RehearsalIdSchema, type Header } from './header.ts';
import { NEWLINE, parseJournal, readJournal, type Journal } from './journal.ts';
import { samplesOf } from './packing/keptSound.ts';

/** A rehearsal as it is kept; its header is never missing, for what the journal lost is taken from the folder's name. */
export interface Kept extends Journal {
  readonly header: Header;
  /** Samples of sound there are, 16 000 a second. */
  readonly samples: number;
}

/** There is no rehearsal of that id. */
export class UnknownRehearsal extends Error {
  override readonly name = 'UnknownRehearsal';
  constructor(id: string) {
    super(`There is no rehearsal "${id}".`);
  }
}

/** Stands for the trainee of a rehearsal whose header is lost: nobody's id, and not "nobody". */
const LOST_TRAINEE = 'unknown';

/** The file in a rehearsal's folder that holds its journal. */
export const JOURNAL_FILE = 'journal.jsonl';

/** The folder of a rehearsal under the folder of all. Throws {@link UnknownRehearsal}. */
export async function folderOf(root: string, id: string): Promise<string> {
  const folder = path.join(root, id);
  if (!RehearsalIdSchema.safeParse(id).success || !(await statOf(path.join(folder, JOURNAL_FILE))))
    throw new UnknownRehearsal(id);
  return folder;
}

/** Reads a rehearsal back, as far as it can be read. Throws {@link UnknownRehearsal}. */
export async function readKept(root: string, id: string): Promise<Kept> {
  const folder = await folderOf(root, id);
  const journal = await readJournal(path.join(folder, JOURNAL_FILE));
  const samples = await samplesOf(folder);
  return { ...journal, header: journal.header ?? headerFromName(id, journal.events), samples };
}

/** Bytes within which a header ends. */
const MOST_HEADER = 1 << 16;

/** The first line of a rehearsal's journal, without reading the rest; empty where there is none. */
export async function firstLine(folder: string): Promise<Buffer> {
  const file = path.join(folder, JOURNAL_FILE);
  if (!(await statOf(file))) return Buffer.alloc(0);
  const handle = await open(file);
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(MOST_HEADER), 0, MOST_HEADER, 0);
    const end = buffer.subarray(0, bytesRead).indexOf(NEWLINE);
    return buffer.subarray(0, end < 0 ? bytesRead : end + 1);
  } finally {
    await handle.close();
  }
}

/** Who rehearsed: an id, null for nobody in particular, `unknown` where the header is lost. Throws {@link UnknownRehearsal}. */
export async function traineeOf(root: string, id: string): Promise<string | null> {
  const { header } = parseJournal(await firstLine(await folderOf(root, id)), id);
  return header ? (header.trainee ?? null) : LOST_TRAINEE;
}

/** What the name of a folder and the first event still tell when the header is lost. */
function headerFromName(id: string, events: readonly RehearsalEvent[]): Header {
  const [, date = '', time = '', name = ''] = /^(\d{8})T(\d{6})Z-(.*?)(?:-\d+)?$/.exec(id) ?? [];
  const began = events.find((event) => event.type === 'began');
  const iso = `${date.replace(/(....)(..)(..)/, '$1-$2-$3')}T${time.replace(/(..)(..)(..)/, '$1:$2:$3')}Z`;
  return {
    schema: 1,
    skill: began?.skill ?? name,
    variants: { ...began?.variants },
    style: 'coach',
    engine: 'unknown',
    startedAt: iso,
    trainee: LOST_TRAINEE,
  };
}
