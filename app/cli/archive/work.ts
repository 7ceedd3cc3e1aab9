import { hostname } from 'node:os';
import { parseArgs } from 'node:util';
import { SchoolLibraries } from '../../archive/taking/schoolLibrary.ts';
import { Queue } from '../../archive/work/queue.ts';
import { work } from '../../archive/work/worker.ts';
import { openLibrary } from '../../library/library.ts';
import type { ExitCode, Io } from '../io.ts';
import { keeping } from './keeping.ts';
import { PLACE_OPTIONS, placeOf, withArchive } from './place.ts';

/** `sinkside archive work` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values } = parseArgs({ args, options: { ...PLACE_OPTIONS, 'until-empty': { type: 'boolean' } } });
    const warn = (message: string): void => io.err(`${message}\n`);
    const libraries = new SchoolLibraries(await openLibrary());
    await withArchive(placeOf(values), warn, async (archive) => {
      const queue = await Queue.open(archive, true, warn);
      const ended = new AbortController();
      const end = (): void => ended.abort();
      process.once('SIGINT', end).once('SIGTERM', end);
      try {
        const done = await work({ archive, libraries, worker: `${hostname()} ${process.pid}` }, queue, {
          untilEmpty: values['until-empty'] ?? false,
          signal: ended.signal,
          tell: warn,
        });
        const reached = done.changed + done.same;
        io.out(
          `${reached} attempts marked again, ${done.changed} of them otherwise; ${done['left out']} left out.\n`,
        );
      } finally {
        process.off('SIGINT', end).off('SIGTERM', end);
        await queue.close();
      }
    });
  });
}
