import { readFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { openParts } from '../../archive/parts/parts.ts';
import { ARCHIVE_PORT, NotSafe, serveArchive } from '../../archive/serving/server.ts';
import { keepProgramSkills } from '../../archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../archive/taking/schoolLibrary.ts';
import { openLibrary } from '../../library/library.ts';
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

/** Resolves when the user wants it to end. */
const untilStopped = (): Promise<void> =>
  new Promise((stop) => {
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => stop());
  });

/** `sinkside archive serve` */
export function run(args: string[], io: Io, stopped = untilStopped): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values } = parseArgs({ args, options: OPTIONS });
    const { host, cert, key, 'behind-proxy': isBehindProxy = false } = values;
    if ((cert === undefined) !== (key === undefined)) throw new UsageError('Give --cert and --key together.');
    const { place, parts } = placeOf(values);
    const warn = (message: string): void => io.err(`${message}\n`);
    const archive = await openWhole(place, warn);
    try {
      const library = await openLibrary();
      await keepProgramSkills(archive, library);
      const taking = { archive, parts: openParts(parts), libraries: new SchoolLibraries(library) };
      const tls =
        cert !== undefined && key !== undefined
          ? { cert: await readFile(cert, 'utf8'), key: await readFile(key, 'utf8') }
          : undefined;
      const server = await serveArchive(taking, {
        host,
        port: portOf(values.port),
        tls,
        isBehindProxy,
        warn,
      });
      io.out(`The archive is served at ${server.url}\nCtrl+C ends it.\n`);
      await stopped();
      await server.close();
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException;
      if (error instanceof NotSafe) throw new UsageError(error.message);
      if (code !== 'EADDRINUSE' && code !== 'EACCES') throw error;
      throw new UsageError(
        `The port ${values.port ?? ARCHIVE_PORT} cannot be taken (${code}): give another with --port.`,
      );
    } finally {
      await archive.close();
    }
  });
}

function portOf(said: string | undefined): number | undefined {
  if (said === undefined) return undefined;
  const port = Number(said);
  if (Number.isInteger(port) && port >= 0 && port < 65_536) return port;
  throw new UsageError(`"${said}" is no port; give a number from 1 to 65535, or 0 for any that is free.`);
}
