import { readFile, type FileHandle } from 'node:fs/promises';
import { RehearsalEventSchema, type RehearsalEvent } from '../marking/events.ts';
import { fieldOf, type Fault } from '../faults/faults.ts';
import { HeaderSchema, type Header } from './header.ts';

/** A journal as it reads: JSON lines, the first a header, each other an event. */
export interface Journal {
  /** Null when the first line cannot be read. */
  readonly header: Header | null;
  readonly events: readonly RehearsalEvent[];
  /** What could not be read, with its line; the rest is there all the same. */
  readonly faults: readonly Fault[];
  /** Lines after the header, unreadable ones counted: the index that the next event gets. */
  readonly kept: number;
}

/** What ends a line. */
export const NEWLINE = 0x0a;

/**
 * Reads a journal, whatever state it is in: a last line that breaks off is left out, and so is any line that is damaged;
 * each is named in `faults`. Rejects as node:fs does when the file itself cannot be read.
 */
export async function readJournal(file: string): Promise<Journal> {
  return parseJournal(await readFile(file), file);
}

/** The same from the file's bytes. */
export function parseJournal(bytes: Uint8Array, file: string): Journal {
  const faults: Fault[] = [];
  const events: RehearsalEvent[] = [];
  let header: Header | null = null;
  let lines = 0;
  const report = (field: string, message: string): void =>
    void faults.push({ file, line: lines + 1, column: 1, field, message });

  for (let from = 0; from < bytes.length; lines++) {
    const to = bytes.indexOf(NEWLINE, from);
    if (to < 0) {
      report('', 'breaks off: the program was stopped while writing it, so it is left out');
      break;
    }
    const schema = lines === 0 ? HeaderSchema : RehearsalEventSchema;
    const checked = schema.safeParse(jsonOf(bytes.subarray(from, to)));
    from = to + 1;
    if (!checked.success) {
      const issue = checked.error.issues[0]!; // a check that failed has one
      report(fieldOf(issue.path.filter((key) => typeof key !== 'symbol')), `left out: ${issue.message}`);
    } else if ('schema' in checked.data) header = checked.data;
    else events.push(checked.data);
  }
  return { header, events, faults, kept: Math.max(0, lines - 1) };
}

/** The value of a line; undefined for what is not JSON in UTF-8. */
export function jsonOf(line: Uint8Array): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(line));
  } catch {
    return undefined;
  }
}

/** The journal's first line. */
export function headerLine(header: Header): string {
  return `${JSON.stringify(header)}\n`;
}

/**
 * Writes pieces one after the other from `end` on, where the file is made to end first, and flushes them. Of a piece
 * that cannot be written whole nothing is left. Tells how many pieces are on disk, and what failed.
 */
export async function writeWhole(
  handle: FileHandle,
  end: number,
  pieces: readonly Uint8Array[],
): Promise<{ pieces: number; failed: Error | null }> {
  const bytes = Buffer.concat(pieces);
  let written = 0;
  try {
    await handle.truncate(end);
    while (written < bytes.length) {
      const { bytesWritten } = await handle.write(bytes, written, bytes.length - written, end + written);
      written += bytesWritten;
    }
    await handle.datasync();
    return { pieces: pieces.length, failed: null };
  } catch (error) {
    let whole = 0;
    let length = 0;
    for (const piece of pieces) {
      if (length + piece.length > written) break;
      length += piece.length;
      whole++;
    }
    await handle.truncate(end + length);
    await handle.datasync();
    return { pieces: whole, failed: error as Error };
  }
}
