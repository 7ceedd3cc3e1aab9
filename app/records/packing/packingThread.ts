import { once } from 'node:events';
import { rm } from 'node:fs/promises';
import path from 'node:path';
import { setTimeout, clearTimeout } from 'node:timers';
import { Worker } from 'node:worker_threads';
import { PACKED_FILE, PART } from './keptSound.ts';
import { packBeside, type Packed } from './pack.ts';

/** What the thread answers. `code` is that of node:fs. */
export type PackAnswer =
  | { readonly packed: Packed | null }
  | { readonly failed: { readonly message: string; readonly code?: string } };

/** Beside this file, and beside the built program. */
const THREAD = new URL('./packThread.mjs', import.meta.url);
/** How long the thread waits for more to pack, ms: it holds some 40 MB. */
const IDLE = 10_000;

/**
 * Packs sound in a thread of its own, so that the host answers meanwhile: the library alone takes a moment to load. Where no thread can
 * be had, it is packed in this one.
 */
export class PackingThread {
  private worker: Worker | null = null;
  private idle: NodeJS.Timeout | undefined;

  /** As {@link packBeside}, one folder at a time. */
  async pack(folder: string, signal: AbortSignal): Promise<Packed | null> {
    clearTimeout(this.idle);
    this.worker ??= new Worker(THREAD);
    this.worker.ref();
    const answered = once(this.worker, 'message', { signal });
    this.worker.postMessage(folder);
    const answer = await answered.then(
      ([message]) => message as PackAnswer,
      () => null,
    );
    if (answer) this.rest();
    else {
      await this.end();
      await rm(path.join(folder, PACKED_FILE + PART), { force: true }).catch(() => undefined);
      signal.throwIfAborted();
      return packBeside(folder, signal);
    }
    if ('packed' in answer) return answer.packed;
    throw Object.assign(new Error(answer.failed.message), { code: answer.failed.code });
  }

  /** Ends the thread, and what is being packed in it. */
  async end(): Promise<void> {
    clearTimeout(this.idle);
    const { worker } = this;
    this.worker = null;
    await worker?.terminate();
  }

  /** Waits for more; meanwhile the program may end. */
  private rest(): void {
    this.worker?.unref();
    this.idle = setTimeout(() => void this.end(), IDLE).unref();
  }
}
