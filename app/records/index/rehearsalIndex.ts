import { statSync } from 'node:fs';
import path from 'node:path';
import { setImmediate, setTimeout } from 'node:timers/promises';
import { JOURNAL_FILE, readKept, UnknownRehearsal } from '../kept.ts';
import { drawnIn, type Marker } from '../marker.ts';
import { samplesOf } from '../packing/keptSound.ts';
import { SOUND_RATE } from '../soundTrack.ts';
import type { RehearsalSummary } from '../summary.ts';
import type { Entry } from './entry.ts';
import { IndexFiles } from './indexFiles.ts';

/** How far it is with reading and marking what it did not know: rehearsals that are done, of how many. */
export interface Reading {
  readonly done: number;
  readonly of: number;
}
export type Report = (reading: Reading) => void;

/** What is known of the rehearsals, newest first. */
export interface Glance {
  readonly entries: readonly Entry[];
  /** How far it is where not all are known yet; null where they are. */
  readonly reading: Reading | null;
}

/** Journals looked at before others have their turn: some milliseconds' worth. */
const SLICE = 500;
/** How often what was read so far is put down while much is read, ms: what a crash would cost. */
const SAVE_EVERY = 10_000;

/**
 * What is known of all rehearsals, so that only what has changed is read and marked again. Kept in files beside their folders, which
 * alone count: where a file is missing, damaged or made by another program, it is made again from them.
 */
export class RehearsalIndex {
  private entries = new Map<string, Entry>();
  private loading: Promise<void> | null = null;
  /** The ids that there are, newest first. */
  private ids = new Set<string>();
  private reading: Reading | null = null;
  private readonly reports = new Set<Report>();
  private isClosed = false;
  /** Looks follow one another. */
  private turn: Promise<unknown> = Promise.resolve();
  /** A look that has not begun: it will see all that was changed before it. */
  private next: Promise<void> | null = null;
  private readonly files: IndexFiles;

  /**
   * @param root the folder of all rehearsals
   * @param find gives the ids of those that there are, newest first
   */
  constructor(
    private readonly root: string,
    private readonly find: () => Promise<string[]>,
    private readonly marker: Marker,
  ) {
    this.files = new IndexFiles(root);
  }

  /** All that there are. `report` hears how far it is with reading what it did not know. */
  async all(report?: Report): Promise<readonly Entry[]> {
    if (report) this.reports.add(report);
    try {
      await this.look();
    } finally {
      if (report) this.reports.delete(report);
    }
    return this.known();
  }

  /** All that there are, or what is known after so many ms. */
  async glance(within: number): Promise<Glance> {
    const looking = this.look();
    const isDone = await Promise.race([looking.then(() => true), setTimeout(within, false, { ref: false })]);
    // What fails after this is told to who asks again.
    looking.catch(() => undefined);
    return { entries: this.known(), reading: isDone ? null : (this.reading ?? { done: 0, of: 0 }) };
  }

  /** Leaves nothing of some rehearsals, which are no longer there, in the index; also while much is being read. */
  async forget(ids: readonly string[]): Promise<void> {
    await this.load();
    for (const id of ids) this.drop(id);
    await this.files.save(this.entries);
  }

  /** Forgets all, so that every rehearsal is read and marked again. */
  rebuild(report?: Report): Promise<readonly Entry[]> {
    void this.inTurn(async () => {
      await this.load();
      for (const id of this.entries.keys()) this.files.touch(id);
      this.entries.clear();
    });
    this.next = null;
    return this.all(report);
  }

  /** Stops reading, and puts down what was read. */
  async close(): Promise<void> {
    this.isClosed = true;
    await this.turn;
  }

  /** The summary of an entry: what was never ended is as long as its sound, which grows without the journal. */
  async summaryOf({ summary }: Entry): Promise<RehearsalSummary> {
    if (summary.state === 'ended') return summary;
    return { ...summary, seconds: (await samplesOf(path.join(this.root, summary.id))) / SOUND_RATE };
  }

  private known(): Entry[] {
    return [...this.ids].flatMap((id) => this.entries.get(id) ?? []);
  }

  private look(): Promise<void> {
    this.next ??= this.inTurn(() => {
      this.next = null;
      return this.lookNow();
    });
    return this.next;
  }

  private async lookNow(): Promise<void> {
    await this.load();
    const ids = await this.find();
    const stale = await this.staleOf(ids);
    this.ids = new Set(ids);
    for (const id of this.entries.keys()) if (!this.ids.has(id)) this.drop(id);
    try {
      await this.readAll(stale, ids.length);
    } finally {
      this.reading = null;
      await this.files.save(this.entries);
    }
  }

  /** Reads and marks some, one after the other; others have their turn in between. */
  private async readAll(stale: readonly Stale[], of: number): Promise<void> {
    let savedAt = Date.now();
    for (const [i, { id, journal }] of stale.entries()) {
      if (this.isClosed) return;
      this.reading = { done: of - stale.length + i, of };
      for (const report of this.reports) report(this.reading);
      const entry = await this.mark(id, journal);
      // It may have been deleted meanwhile.
      if (entry && this.ids.has(id)) this.entries.set(id, entry);
      this.files.touch(id);
      await setImmediate();
      if (Date.now() - savedAt < SAVE_EVERY) continue;
      await this.files.save(this.entries);
      savedAt = Date.now();
    }
  }

  /** Which of them must be read, newest first. What has lost its journal is taken out of the entries. */
  private async staleOf(ids: readonly string[]): Promise<Stale[]> {
    const basisOf = this.marker.rememberingBasisOf();
    const stale: Stale[] = [];
    for (let from = 0; from < ids.length; from += SLICE) {
      for (const id of ids.slice(from, from + SLICE)) {
        const found = quickStat(path.join(this.root, id, JOURNAL_FILE));
        const known = this.entries.get(id);
        if (!found) {
          this.drop(id);
          continue;
        }
        const isCurrent =
          known?.journal.size === found.size &&
          known.journal.changedAt === found.changedAt &&
          known.basis === basisOf(known.summary.skill, known.version, known.isTest);
        if (!isCurrent) stale.push({ id, journal: found });
      }
      await setImmediate();
    }
    return stale;
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
      isReviewed: kept.events.some(({ type }) => type === 'reviewed'),
      attempts: this.marker.attemptsIn(id, kept),
    };
  }

  private drop(id: string): void {
    this.ids.delete(id);
    if (this.entries.delete(id)) this.files.touch(id);
  }

  private load(): Promise<void> {
    this.loading ??= this.files.load().then((entries) => void (this.entries = entries));
    return this.loading;
  }

  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}

/** A rehearsal that must be read, and its journal as it was when it was looked at. */
interface Stale {
  readonly id: string;
  readonly journal: Entry['journal'];
}

/** As {@link statOf}, and ten times as quick, for it is not waited for; see {@link SLICE}. */
function quickStat(file: string): Entry['journal'] | null {
  try {
    const { size, mtimeMs } = statSync(file);
    return { size, changedAt: mtimeMs };
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT' || code === 'ENOTDIR') return null;
    throw error;
  }
}
