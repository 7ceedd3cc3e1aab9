import { setTimeout } from 'node:timers';
import { whyOf } from '../../disk/wholeFile.ts';
import { folderOf, UnknownRehearsal } from '../kept.ts';
import { putInPlace } from './pack.ts';
import { PackingThread } from './packingThread.ts';

/** How long after its end a rehearsal is packed, ms: the last of its sound comes after the event that ends it. */
const AFTER_END = 3000;

/** Packs the sound of rehearsals, one after the other, until it is stopped. A rehearsal can be changed meanwhile. */
export class Packer {
  private readonly stopping = new AbortController();
  private readonly thread = new PackingThread();
  private turn: Promise<unknown> = Promise.resolve();

  /**
   * @param root the folder of all rehearsals
   * @param inTurn changes a rehearsal, given its folder, once all changes before are done
   * @param warn hears which sound could not be packed, and why
   */
  constructor(
    private readonly root: string,
    private readonly inTurn: (id: string, change: (folder: string) => Promise<boolean>) => Promise<boolean>,
    private readonly warn: (message: string) => void,
  ) {}

  /** Packs a rehearsal’s sound. Rejects, as node:fs does or where other samples came out than went in, with the WAV file as it was. */
  pack(id: string): Promise<void> {
    const turn = this.turn.then(() => this.packNow(id));
    this.turn = turn.catch(() => undefined);
    return turn;
  }

  /** Packs a rehearsal's sound when all of it has come. */
  packSoon(id: string): void {
    const timer = setTimeout(() => void this.tryToPack(id), AFTER_END);
    timer.unref();
  }

  /** Packs sound after sound. What fails for one in a way that it will for all ends it: a full disk, a folder that is read only. */
  async packAll(ids: AsyncIterable<string>): Promise<void> {
    for await (const id of ids) if (!(await this.tryToPack(id))) return;
  }

  /** Ends what is going on; nothing is packed afterwards. */
  async stop(): Promise<void> {
    this.stopping.abort();
    await this.turn;
    await this.thread.end();
  }

  private async packNow(id: string): Promise<void> {
    const { signal } = this.stopping;
    signal.throwIfAborted();
    const packed = await this.thread.pack(await folderOf(this.root, id), signal);
    if (!packed) return;
    const isDone = await this.inTurn(id, (folder) => putInPlace(folder, packed));
    if (!isDone) this.packSoon(id);
  }

  /** Whether the next may be tried. */
  private async tryToPack(id: string): Promise<boolean> {
    try {
      await this.pack(id);
      return true;
    } catch (error) {
      if (this.stopping.signal.aborted) return false;
      const { code } = error as NodeJS.ErrnoException;
      // It was deleted meanwhile: whatever that broke is no news.
      const isGone = await folderOf(this.root, id).then(
        () => false,
        (missing: unknown) => missing instanceof UnknownRehearsal,
      );
      if (!isGone) this.warn(`The sound of ${id} stays as it is, unpacked: ${whyOf(error as Error)}`);
      return isGone || code === undefined;
    }
  }
}
