import { parseArgs } from 'node:util';
import { startHost, USUAL_PORT, type Host } from '../host/server.ts';
import { dataFolder } from '../disk/dataFolder.ts';
import { FolderHeld } from '../disk/folderLock.ts';
import { SkillFolder } from '../library/skillFolder.ts';
import { describeFault, FaultyFile } from '../faults/faults.ts';
import { buildScreens, NoBuilder, RENDERER } from './build.ts';
import { hasDisplay, openBrowser } from './display.ts';
import type { ExitCode, Io } from './io.ts';

export const USAGE = `Usage: sinkside room [--port N] [--no-open] [--skills DIR]

Opens the rehearsal room in your browser, served from this machine to this machine. Ctrl+C ends it. Where it is open already,
its page is opened once more.

  --port N       the port to serve on instead of ${USUAL_PORT} (or the next that is free)
  --no-open      only print the address
  --skills DIR   a folder of skill files instead of the program's own

Rehearsals are kept in your data folder, or in the folder that SINKSIDE_DATA names.
`;

/** What lies outside the command, passed in so that tests can stand in for it. */
export interface RoomEffects {
  readonly build: (io: Io) => Promise<void>;
  readonly open: (url: string) => void;
  /** Resolves when the user wants it to end. */
  readonly untilStopped: () => Promise<void>;
}

/** The real browser and the signals of the system. */
export const REAL: RoomEffects = {
  build: buildScreens,
  open: (url) => {
    if (hasDisplay(process.env, process.platform)) openBrowser(url);
  },
  untilStopped: () =>
    new Promise((stop) => {
      for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => stop());
    }),
};

/** `sinkside room` */
export async function run(args: string[], io: Io, effects: RoomEffects = REAL): Promise<ExitCode> {
  const { values } = parseArgs({
    args,
    options: { port: { type: 'string' }, 'no-open': { type: 'boolean' }, skills: { type: 'string' } },
  });
  const port = values.port === undefined ? undefined : Number(values.port);
  if (port !== undefined && !(Number.isInteger(port) && port >= 0 && port < 65_536)) {
    io.err(`"${values.port}" is no port; give a number from 1 to 65535, or 0 for any that is free.\n`);
    return 2;
  }
  let host: Host;
  try {
    const data = dataFolder();
    const skills = await SkillFolder.open(data, values.skills);
    for (const fault of skills.library.faults) io.err(`Left out: ${describeFault(fault)}\n`);
    await effects.build(io);
    const warn = (message: string): void => io.err(`${message}\n`);
    host = await startHost({ data, skills, renderer: RENDERER, port, warn });
  } catch (error) {
    if (error instanceof FolderHeld) {
      io.err(`${error.message}\n`);
      if (!error.answers) return 2;
      io.out(`The rehearsal room is open already at ${error.url}\n`);
      if (!values['no-open']) effects.open(error.url);
      return 0;
    }
    if (error instanceof FaultyFile || error instanceof NoBuilder) {
      io.err(`${error.message}\n`);
      return 3;
    }
    const { code } = error as NodeJS.ErrnoException;
    if (code !== 'EADDRINUSE' && code !== 'EACCES') throw error;
    io.err(
      `Port ${port ?? USUAL_PORT} ${code === 'EACCES' ? 'may not be used' : 'is taken'}. ` +
        'Give another with --port, or --port 0 for any that is free.\n',
    );
    return 2;
  }
  io.out(`The rehearsal room is open at ${host.url}\n`);
  if (port === undefined && host.port !== USUAL_PORT) {
    io.out(`(Port ${USUAL_PORT} is taken by another program.)\n`);
  }
  io.out('Ctrl+C ends it.\n');
  const stopped = effects.untilStopped();
  if (!values['no-open']) effects.open(host.url);
  await stopped;
  await host.close();
  io.out('The rehearsal room is closed.\n');
  return 0;
}
