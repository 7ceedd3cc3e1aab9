import { randomUUID } from 'node:crypto';
import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { holdFolder, type Answer, type LockEffects } from '../disk/folderLock.ts';
import { HostStandingSchema } from './api.ts';

function isRunning(pid: number): boolean {
  try {
    // Signal 0 is not sent: it only asks.
    return process.kill(pid, 0);
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** How long a host that is busy may take to say who it is, ms. */
const ANSWER_WITHIN = 5000;

/** Asks what serves at a port whether it is a host, and which. */
async function askHost(port: number): Promise<Answer> {
  try {
    const signal = AbortSignal.timeout(ANSWER_WITHIN);
    const response = await fetch(`http://127.0.0.1:${port}/api/host`, { signal });
    return HostStandingSchema.parse(await response.json());
  } catch (error) {
    return (error as Error).name === 'TimeoutError' ? 'silent' : 'gone';
  }
}

/** The real processes and ports. */
export const LOCK_EFFECTS: LockEffects = { isRunning, ask: askHost };

/**
 * Does something with a data folder that no other program uses meanwhile.
 *
 * @throws {FolderHeld} another one does
 */
export async function alone<T>(data: string, work: () => Promise<T>): Promise<T> {
  const id = randomUUID();
  // Who finds the folder held asks at its port.
  const server = createServer((_, response) => response.end(JSON.stringify({ id })));
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  try {
    const { port } = server.address() as AddressInfo;
    const release = await holdFolder(data, port, id, LOCK_EFFECTS);
    return await work().finally(release);
  } finally {
    server.close();
    server.closeAllConnections();
  }
}
