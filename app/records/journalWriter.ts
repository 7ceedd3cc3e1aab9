import { open, type FileHandle } from 'node:fs/promises';
import { isDeepStrictEqual } from 'node:util';
import { Gap, NotKept, OtherContent } from '../disk/notKept.ts';
import { isFull, whyOf } from '../disk/wholeFile.ts';
import { FaultyFile } from '../faults/faults.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { jsonOf, NEWLINE, writeWhole } from './journal.ts';

/** Where a journal's whole lines end. */
interface End {
  readonly lines: number;
  readonly bytes: number;
}

/** Adds events to one journal. It remembers where the journal ends, so that a long one is not read for every event. */
export class JournalWriter {
  private end: End | null = null;

  constructor(private readonly file: string) {}

  /**
   * Adds events and brings them to the disk before resolving with the new count. `from` is the index of the first, or the journal's end; those the
   * journal has already are compared, so that the same may be sent twice. A last line that breaks off is cut away first. The
   * caller sees to it that only one such call runs at a time.
   *
   * @throws {Gap} `from` lies beyond the journal's end
   * @throws {OtherContent} the journal has other events there
   * @throws {NotKept} not all could be written; whole lines are left
   * @throws {FaultyFile} the journal has not even a header line
   */
  async add(from: number | 'end', events: readonly RehearsalEvent[]): Promise<number> {
    const { file } = this;
    const handle = await open(file, 'r+');
    try {
      const end = await this.findEnd(handle);
      const kept = end.lines - 1;
      if (kept < 0) {
        const message = 'is missing: nothing can be added';
        throw new FaultyFile([{ file, line: 1, column: 1, field: '', message }]);
      }
      const first = from === 'end' ? kept : from;
      if (first > kept) throw new Gap(`Events ${kept} to ${first - 1} are missing.`, kept);
      const again = events.slice(0, kept - first);
      if (again.length > 0) await compare(handle, end, first, again);
      return await this.write(handle, end, events.slice(again.length));
    } finally {
      await handle.close();
    }
  }

  /** The end that is remembered, unless something else has changed the file. */
  private async findEnd(handle: FileHandle): Promise<End> {
    if (this.end?.bytes === (await handle.stat()).size) return this.end;
    const bytes = await handle.readFile();
    return { lines: linesIn(bytes), bytes: bytes.lastIndexOf(NEWLINE) + 1 };
  }

  private async write(handle: FileHandle, end: End, events: readonly RehearsalEvent[]): Promise<number> {
    const pieces = events.map((event) => Buffer.from(`${JSON.stringify(event)}\n`));
    this.end = null;
    const written = await writeWhole(handle, end.bytes, pieces);
    const whole = pieces.slice(0, written.pieces);
    this.end = {
      lines: end.lines + whole.length,
      bytes: whole.reduce((sum, { length }) => sum + length, end.bytes),
    };
    const kept = this.end.lines - 1;
    if (written.failed === null) return kept;
    const last = end.lines + pieces.length - 2;
    throw new NotKept(
      `${whyOf(written.failed)}: ${kept === last ? `event ${kept} was` : `events ${kept} to ${last} were`} not kept.`,
      kept,
      isFull(written.failed),
    );
  }
}

/** Throws {@link OtherContent} unless a journal holds these events from an index on. */
async function compare(
  handle: FileHandle,
  { lines, bytes }: End,
  from: number,
  events: readonly RehearsalEvent[],
): Promise<void> {
  const whole = Buffer.alloc(bytes);
  await handle.read(whole, 0, bytes, 0);
  let at = startOf(whole, 1 + from);
  for (const [i, event] of events.entries()) {
    const to = whole.indexOf(NEWLINE, at);
    // As JSON keeps it: minus zero, for one, does not survive.
    const same = isDeepStrictEqual(jsonOf(whole.subarray(at, to)), JSON.parse(JSON.stringify(event)));
    if (!same) throw new OtherContent(`From event ${from + i} on other events are kept already.`, lines - 1);
    at = to + 1;
  }
}

/** How many whole lines there are. */
function linesIn(bytes: Uint8Array): number {
  let lines = 0;
  for (let at = bytes.indexOf(NEWLINE); at >= 0; at = bytes.indexOf(NEWLINE, at + 1)) lines++;
  return lines;
}

/** Where the line of an index, from 0 on, begins; the end of the last whole line for the one after it. −1: there are fewer. */
export function startOf(bytes: Uint8Array, line: number): number {
  let at = 0;
  for (let n = 0; n < line; n++) {
    const end = bytes.indexOf(NEWLINE, at);
    if (end < 0) return -1;
    at = end + 1;
  }
  return at;
}
