import { spawn } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { buildDesktop, buildScreens, DESKTOP_MAIN } from './build.ts';
import { run as demo } from './recorded/demo.ts';
import { hasDisplay } from './display.ts';
import type { ExitCode, Io } from './io.ts';
import { run as room } from './room.ts';

export const USAGE = `Usage: sinkside start

Opens the rehearsal room: in Electron where it can be had, else in your browser. Without a display it marks the recorded
demo narration instead; then it takes the options of "sinkside demo".
`;

/** How long getting Electron may take, in milliseconds: 120 MB at 6 Mbit/s. */
const GET_WITHIN = 3 * 60_000;

/** What lies outside the command, passed in so that tests can stand in for it. */
export interface StartEffects {
  readonly display: boolean;
  /** Gets Electron's program where it is missing; null when it cannot be had. */
  readonly electron: (io: Io) => Promise<string | null>;
  /** Builds and runs the window; its exit code. */
  readonly launch: (electron: string, io: Io) => Promise<number>;
  readonly room: (io: Io) => Promise<ExitCode>;
  readonly demo: (args: string[], io: Io) => Promise<ExitCode>;
}

const REAL: StartEffects = {
  display: hasDisplay(process.env, process.platform),
  electron: getElectron,
  launch: async (electron, io) => {
    await buildScreens(io);
    await buildDesktop(io);
    return exitOf(electron, [DESKTOP_MAIN]);
  },
  room: (io) => room([], io),
  demo,
};

/** `sinkside start`, which is what `npm start` runs. */
export async function run(args: string[], io: Io, effects: StartEffects = REAL): Promise<ExitCode> {
  if (!effects.display) {
    const code = await effects.demo(args, io);
    // Not to standard output, where with --json only the document may stand.
    io.err('To rehearse live, open the rehearsal room in a browser on this machine: npx sinkside room\n');
    return code;
  }
  if (args.length > 0) {
    io.err(USAGE);
    return 2;
  }
  const electron = await effects.electron(io);
  if (electron === null) {
    io.err('Electron cannot be had here, so the room opens in your browser.\n');
    return effects.room(io);
  }
  const code = await effects.launch(electron, io);
  if (code === 0) return 0;
  io.err(`Electron ended with ${code}, so the room opens in your browser.\n`);
  return effects.room(io);
}

/** The program of the electron package, which keeps its path in path.txt and is got by its install.js. */
async function getElectron(io: Io): Promise<string | null> {
  let home: string;
  try {
    home = path.dirname(fileURLToPath(import.meta.resolve('electron/package.json')));
  } catch {
    return null;
  }
  const found = (): string | null => {
    const name = path.join(home, 'path.txt');
    const program = existsSync(name) ? path.join(home, 'dist', readFileSync(name, 'utf8')) : null;
    return program !== null && existsSync(program) ? program : null;
  };
  if (found() === null) {
    io.err('Getting Electron, some 120 MB, once; it is given up after 3 minutes …\n');
    await exitOf(process.execPath, [path.join(home, 'install.js')], GET_WITHIN);
  }
  return found();
}

/** Runs a program to its end, or for so many milliseconds; its exit code, 1 if it was ended or could not be run. */
function exitOf(program: string, args: string[], within?: number): Promise<number> {
  return new Promise((done) => {
    const child = spawn(program, args, {
      stdio: within === undefined ? 'inherit' : 'ignore',
      timeout: within,
    });
    child.on('error', () => done(1));
    child.on('exit', (code) => done(code ?? 1));
  });
}
