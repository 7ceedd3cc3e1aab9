import { rm } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import { replaceFile, statOf, textIfThere } from '../disk/wholeFile.ts';
import { RehearsalIdSchema } from './header.ts';
import { JOURNAL_FILE, readKept, UnknownRehearsal } from './kept.ts';
import { drawnIn, type Marker } from './marker.ts';
import { programStamp } from './programStamp.ts';
import { samplesOf } from './packing/keptSound.ts';
import { SOUND_RATE } from './soundTrack.ts';
import { RehearsalSummarySchema, type RehearsalSummary } from './summary.ts';

const EntrySchema = z.object({
  /** The journal it was made from. */
  journal: z.object({ size: z.number(), changedAt: z.number() }),
  /** What it was marked by, as {@link Marker.basisOf} has it of the following two. */
  basis: z.string(),
  version: z.number().exactOptional(),
  isTest: z.boolean(),
  summary: RehearsalSummarySchema,
});
type Entry = z.infer<typeof EntrySchema>;

const IndexSchema = z.object({ program: z.string(), entries: z.record(RehearsalIdSchema, EntrySchema) });

/**
 * The summaries of all rehearsals, so that only what has changed is read and marked again. Kept as a JSON file beside their
 * folders, which alone count: where the file is missing, damaged or made by another program, it is made again from them, and
 * where it cannot be written, nothing but time is lost.
 */
export class RehearsalIndex {
  private entries: Map<string, Entry> | null = null;
  private program = '';
  /** Lists and changes follow one another. */
  private turn: Promise<unknown> = Promise.resolve();
  private readonly file: string;

  /** @param root the folder of all rehearsals */
  constructor(
    private readonly root: string,
    private readonly marker: Marker,
  ) {
    this.file = path.join(root, 'index.json');
  }

  /** Summaries of the rehearsals of these ids, in their order; those that are not there are left out. */
  list(ids: readonly string[]): Promise<RehearsalSummary[]> {
    return this.inTurn(async () => {
      const before = await this.load();
      const now = new Map<string, Entry>();
      const journals = await Promise.all(ids.map((id) => statOf(path.join(this.root, id, JOURNAL_FILE))));
      for (const [i, id] of ids.entries()) {
        const journal = journals[i];
        if (!journal) continue;
        const known = before.get(id);
        const entry = known && this.isCurrent(known, journal) ? known : await this.mark(id, journal);
        if (entry) now.set(id, entry);
      }
      const changed = now.size !== before.size || [...now].some(([id, entry]) => before.get(id) !== entry);
      this.entries = now;
      if (changed) await this.save();
      return Promise.all([...now.values()].map(({ summary }) => this.withLength(summary)));
    });
  }

  /** Leaves nothing of a rehearsal in the index. */
  forget(id: string): Promise<void> {
    return this.inTurn(async () => {
      if ((await this.load()).delete(id)) await this.save();
    });
  }

  private isCurrent(entry: Entry, { size, changedAt }: Entry['journal']): boolean {
    const { journal, summary, version, isTest, basis } = entry;
    return (
      journal.size === size &&
      journal.changedAt === changedAt &&
      basis === this.marker.basisOf(summary.skill, version, isTest)
    );
  }

  /** Null where it was taken away by hand meanwhile. */
  private async mark(id: string, journal: Entry['journal']): Promise<Entry | null> {
    const kept = await readKept(this.root, id).catch((error: unknown) => {
      if (error instanceof UnknownRehearsal) return null;
      throw error;
    });
    if (!kept) return null;
    const { skill, version } = kept.header;
    const isTest = drawnIn(kept.events) !== undefined;
    return {
      journal,
      basis: this.marker.basisOf(skill, version, isTest),
      ...(version !== undefined && { version }),
      isTest,
      summary: this.marker.summarise(id, kept),
    };
  }

  /** What was never ended is as long as its sound, which grows without the journal. */
  private async withLength(summary: RehearsalSummary): Promise<RehearsalSummary> {
    if (summary.state === 'ended') return summary;
    return { ...summary, seconds: (await samplesOf(path.join(this.root, summary.id))) / SOUND_RATE };
  }

  private async load(): Promise<Map<string, Entry>> {
    if (this.entries) return this.entries;
    this.program = await programStamp();
    const index = IndexSchema.safeParse(jsonOf(await textIfThere(this.file).catch(() => null)));
    const usable = index.success && index.data.program === this.program;
    // It may tell of what is deleted next, and nobody would look for it there.
    if (!usable) await rm(this.file, { force: true }).catch(() => undefined);
    this.entries = new Map(usable ? Object.entries(index.data.entries) : []);
    return this.entries;
  }

  private async save(): Promise<void> {
    const index = { program: this.program, entries: Object.fromEntries(this.entries ?? []) };
    await replaceFile(this.file, JSON.stringify(index)).catch(() =>
      // Rather none than one that tells of what was deleted.
      rm(this.file, { force: true }).catch(() => undefined),
    );
  }

  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}

function jsonOf(text: string | null): unknown {
  try {
    return JSON.parse(text ?? '');
  } catch {
    return null;
  }
}
