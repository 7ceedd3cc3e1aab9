import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { getRequestListener } from '@hono/node-server';
import type { InstallEffects } from '../../models/install.ts';
import type { PackagedFiles } from '../engines/packaged.ts';
import type { SkillFolder } from '../library/skillFolder.ts';
import { Rehearsals } from '../records/rehearsals.ts';
import { hostApp } from './app.ts';

/** The port that is tried first, so that the address stays the same and the browser keeps what it allowed. */
export const USUAL_PORT = 4517;
/** How many ports are tried from there on. */
const PORTS = 20;

export interface HostOptions {
  /** Folder of rehearsals and settings. */
  readonly data: string;
  readonly skills: SkillFolder;
  /** Folder of the built screens. */
  readonly renderer: string;
  /** Files of packages that the page listens with; by default where they are installed. */
  readonly packaged?: PackagedFiles;
  /** The port to take, 0 for any; without it the usual one, or the next that is free. */
  readonly port?: number | undefined;
  /** Hears what went wrong that nobody asked about. */
  readonly warn: (message: string) => void;
  /** How models are got; the real network by default. */
  readonly effects?: (report: InstallEffects['report']) => InstallEffects;
}

export interface Host {
  /** Where the room is: http://127.0.0.1:PORT/ */
  readonly url: string;
  readonly port: number;
  /** Ends, when what is being written is on disk. */
  close(): Promise<void>;
}

/**
 * Serves the screens and keeps the rehearsals, for this machine alone: it listens on 127.0.0.1 only.
 * Rejects as node:net does when the given port is taken (EADDRINUSE), or every one of the usual ports.
 */
export async function startHost(options: HostOptions): Promise<Host> {
  const { data, skills } = options;
  const rehearsals = new Rehearsals(data, skills.library);
  // Left to Node and `readBody`: the adapter cuts off a sender that is slower than half a second.
  const answer = getRequestListener(hostApp(options, rehearsals).fetch, { autoCleanupIncoming: false });
  const server = createServer((request, response) => void answer(request, response));
  const listen = (port: number): Promise<void> =>
    new Promise((done, failed) => {
      server.once('error', failed);
      server.listen(port, '127.0.0.1', () => {
        server.off('error', failed);
        done();
      });
    });
  if (options.port !== undefined) await listen(options.port);
  else await listenOnFree(listen);
  const { port } = server.address() as AddressInfo;
  return {
    url: `http://127.0.0.1:${port}/`,
    port,
    close: async () => {
      const closed = new Promise((done) => server.close(done));
      server.closeIdleConnections();
      await rehearsals.settled();
      await skills.settled();
      server.closeAllConnections();
      await closed;
    },
  };
}

async function listenOnFree(listen: (port: number) => Promise<void>): Promise<void> {
  for (let port = USUAL_PORT; ; port++) {
    try {
      return await listen(port);
    } catch (error) {
      const taken = (error as NodeJS.ErrnoException).code === 'EADDRINUSE';
      if (!taken || port === USUAL_PORT + PORTS - 1) throw error;
    }
  }
}
