import { readFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { openParts } from '../../archive/parts/parts.ts';
import { ARCHIVE_PORT, NotSafe, serveArchive } from '../../archive/serving/server.ts';
import { keepProgramSkills } from '../../archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../archive/taking/schoolLibrary.ts';
import { messageOf } from '../../faults/faults.ts';
import { openLibrary } from '../../library/library.ts';
import { buildScreens, NoBuilder, RENDERER } from '../build.ts';
import type { ExitCode, Io } from '../io.ts';
import { UsageError } from '../recorded/answering.ts';
import { keeping } from './keeping.ts';
import { openWhole, PLACE_OPTIONS, placeOf } from './place.ts';

const OPTIONS = {
  ...PLACE_OPTIONS,
  host: { type: 'string' },
  port: { type: 'string' },
  cert: { type: 'string' },
  key: { type: 'string' },
  'behind-proxy': { type: 'boolean' },
} as const;

/** What lies outside the command, passed in so that tests can stand in for it. */
export interface ServeEffects {
  /** Builds the archive's page. */
  readonly build: (io: Io) => Promise<void>;
  /** Resolves when the user wants it to end. */
  readonly untilStopped: () => Promise<void>;
}

const REAL: ServeEffects = {
  build: buildScreens,
  untilStopped: () =>
    new Promise((stop) => {
      for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => stop());
    }),
};

/** `sinkside archive serve` */
export function run(args: string[], io: Io, effects: ServeEffects = REAL): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values } = parseArgs({ args, options: OPTIONS });
    const port = portOf(values.port);
    const tls = await readTls(values);
    const { place, parts } = placeOf(values);
    const warn = (message: string): void => io.err(`${message}\n`);
    const archive = await openWhole(place, warn);
    try {
      const library = await openLibrary();
      await keepProgramSkills(archive, library);
      const server = await serveArchive(
        { archive, parts: openParts(parts), libraries: new SchoolLibraries(library) },
        {
          host: values.host,
          port,
          tls,
          isBehindProxy: values['behind-proxy'] ?? false,
          screens: await screensFor(io, effects),
          warn,
        },
      );
      io.out(`The archive is served at ${server.url}\nCtrl+C ends it.\n`);
      await effects.untilStopped();
      await server.close();
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException;
      if (error instanceof NotSafe) throw new UsageError(error.message);
      if (code !== 'EADDRINUSE' && code !== 'EACCES') throw error;
      throw new UsageError(
        `The port ${port ?? ARCHIVE_PORT} cannot be taken (${code}): give another with --port.`,
      );
    } finally {
      await archive.close();
    }
  });
}

/** The folder of the built screens. Stations are served without them, too. */
async function screensFor(io: Io, { build }: ServeEffects): Promise<string> {
  await build(io).catch((error: unknown) => {
    if (!(error instanceof NoBuilder)) throw error;
    io.err(`${error.message}\n`);
  });
  return RENDERER;
}

async function readTls({
  cert,
  key,
}: {
  readonly cert?: string | undefined;
  readonly key?: string | undefined;
}): Promise<{ cert: string; key: string } | undefined> {
  if (cert === undefined && key === undefined) return undefined;
  if (cert === undefined || key === undefined) throw new UsageError('Give --cert and --key together.');
  try {
    return { cert: await readFile(cert, 'utf8'), key: await readFile(key, 'utf8') };
  } catch (error) {
    throw new UsageError(`The certificate cannot be read: ${messageOf(error)}.`);
  }
}

function portOf(said: string | undefined): number | undefined {
  if (said === undefined) return undefined;
  const port = Number(said);
  if (Number.isInteger(port) && port >= 0 && port < 65_536) return port;
  throw new UsageError(`"${said}" is no port; give a number from 1 to 65535, or 0 for any that is free.`);
}
