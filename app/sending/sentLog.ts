import { appendFile, mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';
import { RehearsalIdSchema } from '../records/header.ts';

const EntrySchema = z.object({
  record: RehearsalIdSchema,
  /** SHA-256 of the attempt, as bundles have it. */
  sha256: z.string(),
  /** Sizes and dates of its files then: while they are the same, so is the hash. */
  stamp: z.string(),
  /** When the archive answered. */
  at: z.iso.datetime(),
  /** Why the archive refused it; left out where it has it. */
  refused: z.string().exactOptional(),
});
/** What the archive said of a record. */
export type SentEntry = Readonly<z.infer<typeof EntrySchema>>;

const LineSchema = z.union([
  EntrySchema,
  z.object({ record: RehearsalIdSchema, forgotten: z.literal(true) }),
]);
type Line = z.infer<typeof LineSchema>;

/** Lines for each record, above which the file is written anew. */
const MOST_LINES_EACH = 4;
/** Lines that it may have in any case. */
const FEW_LINES = 200;

/**
 * What the archive has acknowledged: DATA/sent.jsonl, one JSON value a line, the last of a record counts. Where the file or a line
 * of it is lost, what it told of is sent again, which changes nothing at the archive.
 */
export class SentLog {
  private constructor(
    private readonly file: string,
    private readonly entries: Map<string, SentEntry>,
    /** Whether there was no file: then it tells nothing of what the archive has. */
    readonly isNew: boolean,
  ) {}

  static async open(data: string): Promise<SentLog> {
    const file = fileIn(data);
    const text = await textIfThere(file);
    const lines = (text ?? '').split('\n').filter((line) => line !== '');
    const entries = new Map<string, SentEntry>();
    for (const line of lines) {
      const value = LineSchema.safeParse(jsonOrNull(line)).data;
      if (!value) continue;
      if ('forgotten' in value) entries.delete(value.record);
      else entries.set(value.record, value);
    }
    await mkdir(data, { recursive: true });
    const isLong = lines.length > Math.max(FEW_LINES, MOST_LINES_EACH * entries.size);
    // A line that broke off would swallow the next one.
    const isTorn = text !== null && text !== '' && !text.endsWith('\n');
    if (isLong || isTorn) await replaceFile(file, [...entries.values()].map(lineOf).join(''));
    return new SentLog(file, entries, text === null);
  }

  /** Deletes the log: for an archive that is left. */
  static async remove(data: string): Promise<void> {
    await rm(fileIn(data), { force: true });
  }

  of(record: string): SentEntry | undefined {
    return this.entries.get(record);
  }

  all(): SentEntry[] {
    return [...this.entries.values()];
  }

  async note(entry: SentEntry): Promise<void> {
    this.entries.set(entry.record, entry);
    await appendFile(this.file, lineOf(entry));
  }

  async forget(record: string): Promise<void> {
    if (this.entries.delete(record)) await appendFile(this.file, lineOf({ record, forgotten: true }));
  }
}

const fileIn = (data: string): string => path.join(data, 'sent.jsonl');
const lineOf = (line: Line): string => `${JSON.stringify(line)}\n`;

function jsonOrNull(line: string): unknown {
  try {
    return JSON.parse(line);
  } catch {
    return null;
  }
}
