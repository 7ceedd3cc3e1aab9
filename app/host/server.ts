import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { findModel } from '../../models/catalog.ts';
import { realEffects, type InstallEffects } from '../../models/install.ts';
import { shelfOf, type Library } from '../library/library.ts';
import { Gap, NotKept } from '../disk/notKept.ts';
import { Rehearsals, UnknownRehearsal } from '../records/rehearsals.ts';
import { readSettings, writeSettings } from '../settings/settingsFile.ts';
import { UnknownSkill, type SkillFolder } from '../library/skillFolder.ts';
import { HEADER_BYTES, wavHeader } from '../records/soundTrack.ts';
import { isFull } from '../disk/wholeFile.ts';
import { UnknownVariant } from '../skills/checklist.ts';
import {
  MOST_SOUND_BYTES,
  NewEventsSchema,
  NewRehearsalSchema,
  SettingsSchema,
  type Library as LibraryReply,
  type Problem,
} from './api.ts';
import { readBody, readJson } from './body.ts';
import { demoSound, readDemo } from './demo.ts';
import { guard, KALDI_WORKER, KALDI_WORKER_POLICY, SAFE_HEADERS } from './guard.ts';
import { packagedFiles, type PackagedFiles } from '../engines/packaged.ts';
import { Installs, modelFile, modelStandings } from './models.ts';
import { Refused } from './refused.ts';
import type { Route } from './route.ts';
import { fileUnder, sendFile, sendJson, sendSound } from './send.ts';
import { skillRoutes } from './skills.ts';
import { FaultyFile, messageOf } from '../faults/faults.ts';

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
  const handle = handlerOf(options, rehearsals);
  const server = createServer((request, response) => void handle(request, response));
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

function handlerOf(
  { data, skills, renderer, packaged = packagedFiles(), warn, effects = realEffects }: HostOptions,
  rehearsals: Rehearsals,
): (request: IncomingMessage, response: ServerResponse) => Promise<void> {
  const installs = new Installs(effects);
  const routes: readonly Route[] = [
    {
      method: 'GET',
      path: /^\/api\/library$/,
      answer: (_, response) => sendJson(response, 200, replyOf(skills.library)),
    },
    {
      method: 'GET',
      path: /^\/api\/models$/,
      answer: async (_, response) => sendJson(response, 200, await modelStandings()),
    },
    {
      method: 'POST',
      path: /^\/api\/models\/([^/]+)\/get$/,
      answer: (_, response, [id = '']) => {
        const model = findModel(id);
        if (!model) throw unknownModel(id);
        installs.watch(model, response);
      },
    },
    {
      method: 'GET',
      path: /^\/models\/([^/]+)\/([^/]+)$/,
      answer: async (_, response, [id = '', name = '']) => {
        const found = modelFile(id, name, packaged);
        if (!found) throw unknownModel(`${id}/${name}`);
        await sendFile(response, await fileUnder(found.folder, `/${found.name}`));
      },
    },
    {
      method: 'GET',
      path: /^\/api\/demo$/,
      answer: async (_, response) => sendJson(response, 200, await readDemo()),
    },
    {
      method: 'GET',
      path: /^\/api\/demo\/sound$/,
      answer: async (_, response) => {
        response.setHeader('content-type', 'application/octet-stream');
        response.end(await demoSound());
      },
    },
    {
      method: 'GET',
      path: /^\/api\/settings$/,
      answer: async (_, response) => sendJson(response, 200, await readSettings(data, warn)),
    },
    {
      method: 'PUT',
      path: /^\/api\/settings$/,
      answer: async (request, response) => {
        const settings = await readJson(request, SettingsSchema);
        await writeSettings(data, settings);
        sendJson(response, 200, settings);
      },
    },
    {
      method: 'GET',
      path: /^\/api\/rehearsals$/,
      answer: async (_, response) => sendJson(response, 200, await rehearsals.list()),
    },
    {
      method: 'POST',
      path: /^\/api\/rehearsals$/,
      answer: async (request, response) => {
        const id = await rehearsals.create(await readJson(request, NewRehearsalSchema));
        sendJson(response, 201, { id });
      },
    },
    {
      method: 'GET',
      path: /^\/api\/rehearsals\/([^/]+)$/,
      answer: async (_, response, [id = '']) => sendJson(response, 200, await rehearsals.read(id)),
    },
    {
      method: 'POST',
      path: /^\/api\/rehearsals\/([^/]+)\/events$/,
      answer: async (request, response, [id = '']) => {
        const { from, events } = await readJson(request, NewEventsSchema);
        sendJson(response, 200, { kept: await rehearsals.addEvents(id, from, events) });
      },
    },
    {
      method: 'POST',
      path: /^\/api\/rehearsals\/([^/]+)\/sound$/,
      answer: async (request, response, [id = '']) => {
        const from = placeOf(request);
        const sound = await readBody(request, MOST_SOUND_BYTES);
        if (sound.length % 2 === 1) {
          throw new Refused(400, {
            error: 'The sound ends inside a sample.',
            where: `${request.method} ${request.url}`,
            advice: 'Send 16-bit samples, two bytes each.',
          });
        }
        sendJson(response, 200, { samples: await rehearsals.addSound(id, from, sound) });
      },
    },
    {
      method: 'GET',
      path: /^\/api\/rehearsals\/([^/]+)\/sound$/,
      answer: async (request, response, [id = '']) => {
        const { file, dataBytes } = await rehearsals.sound(id);
        const head = wavHeader(dataBytes);
        await sendSound(request, response, { head, file, skip: HEADER_BYTES, bytes: dataBytes });
      },
    },
    ...skillRoutes(skills, packaged),
    {
      method: 'GET',
      path: /^(?!\/api\/|\/models\/)(\/.*)$/,
      answer: async (request, response, [name = '/']) => {
        const found = await fileUnder(renderer, name).catch((error: unknown) => {
          if (name !== '/') throw error;
          throw new Refused(503, {
            error: 'The screens are not built.',
            where: `${request.method} ${request.url}`,
            advice: 'Run: npx vite build',
          });
        });
        if (KALDI_WORKER.test(found.file)) response.setHeader('content-security-policy', KALDI_WORKER_POLICY);
        await sendFile(response, found);
      },
    },
  ];

  return async (request, response) => {
    for (const [name, value] of Object.entries(SAFE_HEADERS)) response.setHeader(name, value);
    const where = `${request.method} ${request.url}`;
    try {
      guard(request);
      const pathname = pathOf(request);
      const there = routes.filter((route) => route.path.test(pathname));
      const route = there.find(({ method }) => method === request.method);
      if (!route) throw noRoute(there, where);
      await route.answer(request, response, route.path.exec(pathname)!.slice(1).map(decoded));
    } catch (error) {
      if (response.headersSent) {
        // The answer is under way, or its reader has left: all that can be said is that it breaks off.
        response.destroy();
        return;
      }
      const { status, problem } = refusalOf(error, where);
      if (status === 500)
        warn(`${where}: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`);
      sendJson(response, status, problem);
    }
  };
}

function replyOf(library: Library): LibraryReply {
  return { ...shelfOf(library), care: library.care, rules: library.rules, faults: [...library.faults] };
}

function pathOf(request: IncomingMessage): string {
  try {
    return new URL(request.url ?? '', 'http://127.0.0.1').pathname;
  } catch {
    throw new Refused(400, {
      error: 'The address is not one.',
      where: `${request.method} ${request.url}`,
      advice: 'Open / for the rehearsal room.',
    });
  }
}

/** A part of a path as it was meant; one that is wrongly escaped stays as it is and is found nowhere. */
function decoded(part: string): string {
  // The whole path of a file is decoded, and checked, where it is looked for.
  if (part.startsWith('/')) return part;
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

function placeOf(request: IncomingMessage): number {
  const text = new URL(request.url!, 'http://127.0.0.1').searchParams.get('from') ?? '';
  const from = Number(text);
  if (/^\d+$/.test(text) && Number.isSafeInteger(from)) return from;
  throw new Refused(400, {
    error: `"${text}" is no place in the sound.`,
    where: `${request.method} ${request.url}, parameter from`,
    advice: 'Give the number of samples before this piece: ?from=0 for the first.',
  });
}

function unknownModel(id: string): Refused {
  return new Refused(404, {
    error: `There is no model file or model "${id}".`,
    where: `/models/${id}`,
    advice: 'GET /api/models lists what there is.',
  });
}

function noRoute(there: readonly Route[], where: string): Refused {
  if (there.length === 0) {
    return new Refused(404, {
      error: 'There is nothing here.',
      where,
      advice: 'See app/host/api.ts for what there is.',
    });
  }
  const methods = there.map(({ method }) => method).join(' or ');
  return new Refused(405, { error: 'This cannot be done here.', where, advice: `Use ${methods}.` });
}

/** What is answered when something fails. */
function refusalOf(error: unknown, where: string): { status: number; problem: Problem } {
  if (error instanceof Refused) return error;
  const message = messageOf(error);
  const problem = (
    status: number,
    advice: string,
    more: Partial<Problem> = {},
  ): { status: number; problem: Problem } => ({
    status,
    problem: { error: message, where, advice, ...more },
  });
  if (error instanceof UnknownRehearsal) return problem(404, 'GET /api/rehearsals lists what there is.');
  if (error instanceof UnknownSkill) return problem(404, 'GET /api/skills lists what there is.');
  if (error instanceof FaultyFile)
    return problem(422, 'Put the faults right; nothing was written.', { faults: [...error.faults] });
  if (error instanceof UnknownVariant) return problem(400, 'GET /api/library lists what there is.');
  const count = (kept: number): Partial<Problem> => (where.includes('/sound') ? { samples: kept } : { kept });
  if (error instanceof Gap) return problem(409, `Send from ${error.kept} on.`, count(error.kept));
  const makeRoom = 'Make room on the disk; nothing sent before is lost. Then send the rest again.';
  if (error instanceof NotKept) {
    const advice = error.full ? makeRoom : 'Check the disk. Then send the rest again.';
    return problem(error.full ? 507 : 500, advice, count(error.kept));
  }
  if (isFull(error)) return problem(507, makeRoom, { error: 'The disk is full.' });
  if (['EACCES', 'EPERM', 'EROFS', 'ENOTDIR'].includes(String((error as NodeJS.ErrnoException).code)))
    return problem(500, 'Let this user write there, or set SINKSIDE_DATA to another folder and start again.');
  return problem(500, 'Try again; if it stays so, tell who looks after this machine.');
}
