import { parentPort } from 'node:worker_threads';
import { packBeside } from './pack.ts';
import type { PackAnswer } from './packingThread.ts';

/** What runs in the thread of {@link PackingThread}: packs the sound of each folder it is sent, one after the other. */
parentPort?.on('message', (folder: string) => {
  // Whoever wants it to end ends the thread.
  packBeside(folder, new AbortController().signal)
    .then(
      (packed): PackAnswer => ({ packed }),
      (error: NodeJS.ErrnoException): PackAnswer => ({
        failed: { message: error.message, ...(error.code !== undefined && { code: error.code }) },
      }),
    )
    .then((answer) => parentPort?.postMessage(answer));
});
