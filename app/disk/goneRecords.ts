import { appendFile, mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import { replaceFile, statOf, textIfThere } from './wholeFile.ts';

const GoneRecordSchema = z.object({ record: z.string().min(1), at: z.iso.datetime() });
/** A rehearsal that was deleted, and when. */
export type GoneRecord = Readonly<z.infer<typeof GoneRecordSchema>>;

/**
 * What was deleted here and must still be told elsewhere: JSON lines beside the rehearsals. Kept only where somebody asks for it
 * to be (see app/sending): elsewhere nothing of a deleted rehearsal stays.
 */
export class GoneRecords {
  private readonly file: string;
  /** Changes follow one another. */
  private turn: Promise<unknown> = Promise.resolve();

  /** @param root the folder of all rehearsals */
  constructor(root: string) {
    this.file = path.join(root, 'gone.jsonl');
  }

  /** From now on deletions are noted. */
  async keep(): Promise<void> {
    await mkdir(path.dirname(this.file), { recursive: true });
    if (!(await statOf(this.file))) await replaceFile(this.file, '');
  }

  /** From now on they are not; what was noted is forgotten. */
  async stop(): Promise<void> {
    await rm(this.file, { force: true });
  }

  /** Notes one, on disk before it resolves, where deletions are noted. `now` is in ms since 1970. */
  note(record: string, now: number): Promise<void> {
    return this.inTurn(async () => {
      if (!(await statOf(this.file))) return;
      await appendFile(this.file, lineOf({ record, at: new Date(now).toISOString() }), { flush: true });
    });
  }

  /** All that are noted, each once; a line that broke off is left out. */
  async read(): Promise<GoneRecord[]> {
    const byRecord = new Map((await this.lines()).map((gone) => [gone.record, gone]));
    return [...byRecord.values()];
  }

  /** Forgets some, which were told. What is noted meanwhile stays. */
  forget(records: ReadonlySet<string>): Promise<void> {
    return this.inTurn(async () => {
      if (records.size === 0 || !(await statOf(this.file))) return;
      const left = (await this.lines()).filter(({ record }) => !records.has(record));
      await replaceFile(this.file, left.map(lineOf).join(''));
    });
  }

  private async lines(): Promise<GoneRecord[]> {
    const lines = ((await textIfThere(this.file)) ?? '').split('\n');
    return lines.flatMap((line) => GoneRecordSchema.safeParse(jsonOrNull(line)).data ?? []);
  }

  private inTurn(work: () => Promise<void>): Promise<void> {
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}

const lineOf = (gone: GoneRecord): string => `${JSON.stringify(gone)}\n`;

function jsonOrNull(line: string): unknown {
  try {
    return JSON.parse(line);
  } catch {
    return null;
  }
}
