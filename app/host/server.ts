import { randomUUID } from 'node:crypto';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { getRequestListener } from '@hono/node-server';
import type { InstallEffects } from '../../models/install.ts';
import { FolderHeld, holdFolder } from '../disk/folderLock.ts';
import type { PackagedFiles } from '../engines/packaged.ts';
import type { SkillFolder } from '../library/skillFolder.ts';
import { Carrier } from '../carrying/carrier.ts';
import { BenchReadings } from '../people/benchReadings.ts';
import { PeopleFile } from '../people/peopleFile.ts';
import { Rehearsals } from '../records/rehearsals.ts';
import { REAL_EFFECTS, Sender } from '../sending/sender.ts';
import { stationIn } from '../sending/stationIn.ts';
import { messageOf } from '../faults/faults.ts';
import type { Problem } from './api.ts';
import { hostApp } from './app.ts';
import { deleteOldDaily } from './people/keeping.ts';
import { SAFE_HEADERS } from './guard.ts';
import { LOCK_EFFECTS } from './alone.ts';

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
 *
 * @throws {FolderHeld} another program keeps rehearsals in that folder
 */
export async function startHost(options: HostOptions): Promise<Host> {
  const { data, skills, warn } = options;
  const id = randomUUID();
  const rehearsals = new Rehearsals(data, skills.library, warn);
  const people = new PeopleFile(data);
  const carrier = new Carrier({ rehearsals, people, skills });
  const bench = new BenchReadings(data);
  const sender = new Sender(data, stationIn(data, rehearsals, people, carrier), { ...REAL_EFFECTS, warn });
  // Left to Node and `readBody`: the adapter cuts off a sender that is slower than half a second.
  const answer = getRequestListener(hostApp(id, options, rehearsals, people, carrier, bench, sender).fetch, {
    autoCleanupIncoming: false,
    errorHandler: unreadable,
  });
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
  const release = await hold(options, port, id).catch((error: unknown) => {
    server.close();
    throw error;
  });
  await carrier.goOn().catch((error: unknown) => warn(messageOf(error)));
  await rehearsals.tidy().catch((error: unknown) => warn(messageOf(error)));
  const stopDeleting = await deleteOldDaily(people, rehearsals, bench, warn);
  void rehearsals.packAll().catch((error: unknown) => warn(messageOf(error)));
  sender.start();
  return {
    url: `http://127.0.0.1:${port}/`,
    port,
    close: async () => {
      stopDeleting();
      const closed = new Promise((done) => server.close(done));
      server.closeIdleConnections();
      await sender.stop();
      await rehearsals.close();
      await skills.settled();
      await release();
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

/** Answers a request that is none, for which no route can be looked up: its Host or address cannot be read. */
function unreadable(error: unknown): Response {
  const problem: Problem = {
    error: `The request cannot be read: ${messageOf(error)}.`,
    where: 'the address or the header Host',
    advice: 'Open the address that Sinkside printed, which begins with http://127.0.0.1.',
  };
  return Response.json(problem, { status: 400, headers: SAFE_HEADERS });
}

/** Holds the data folder. Where it cannot be written to, the screens are there all the same. */
async function hold({ data, warn }: HostOptions, port: number, id: string): Promise<() => Promise<void>> {
  try {
    return await holdFolder(data, port, id, LOCK_EFFECTS);
  } catch (error) {
    if (error instanceof FolderHeld) throw error;
    warn(`${data} could not be taken for this program alone: ${messageOf(error)}`);
    return () => Promise.resolve();
  }
}
