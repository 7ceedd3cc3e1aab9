import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { z } from 'zod';
import { ReadingTakenSchema, type ReadingTaken } from '../bench/readings/taken.ts';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';
import { TraineeIdSchema } from './trainee.ts';

/** Readings kept of a person; older ones make room. Years of daily practice. */
const MOST = 2000;

const ReadingsSchema = z.array(ReadingTakenSchema);

/**
 * What each person has read off at the bench: DATA/bench/ID.json. All functions reject as node:fs does, and for an id that is none; a
 * file that is damaged counts as empty, and the next reading replaces it.
 */
export class BenchReadings {
  private readonly folder: string;
  /** Changes follow one another. */
  private turn: Promise<unknown> = Promise.resolve();

  constructor(data: string) {
    this.folder = path.join(data, 'bench');
  }

  async of(trainee: string): Promise<ReadingTaken[]> {
    const text = await textIfThere(this.file(trainee));
    return ReadingsSchema.safeParse(text === null ? [] : jsonOrNull(text)).data ?? [];
  }

  add(trainee: string, readings: readonly ReadingTaken[]): Promise<void> {
    return this.change(trainee, (kept) => [...kept, ...readings].slice(-MOST));
  }

  /** Forgets what was read before a moment, in ms since 1970. */
  deleteBefore(trainee: string, moment: number): Promise<void> {
    return this.change(trainee, (kept) => kept.filter(({ takenAt }) => Date.parse(takenAt) >= moment));
  }

  /** Deletes all that is kept of a person. */
  delete(trainee: string): Promise<void> {
    return this.inTurn(() => rm(this.file(trainee), { force: true }));
  }

  private change(trainee: string, change: (kept: ReadingTaken[]) => ReadingTaken[]): Promise<void> {
    return this.inTurn(async () => {
      const kept = await this.of(trainee);
      const next = change(kept);
      if (next.length === 0) return rm(this.file(trainee), { force: true });
      if (next.length === kept.length && next.every((each, i) => each === kept[i])) return;
      await mkdir(this.folder, { recursive: true });
      await replaceFile(this.file(trainee), `${JSON.stringify(next)}\n`);
    });
  }

  private file(trainee: string): string {
    return path.join(this.folder, `${TraineeIdSchema.parse(trainee)}.json`);
  }

  private inTurn(work: () => Promise<void>): Promise<void> {
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}

function jsonOrNull(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
