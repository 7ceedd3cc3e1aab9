import { parseArgs } from 'node:util';
import { move, noteMoved } from '../../archive/keeping/move.ts';
import { openArchive } from '../../archive/store/connection.ts';
import type { ExitCode, Io } from '../io.ts';
import { UsageError } from '../recorded/answering.ts';
import { keeping, warningTo } from './keeping.ts';
import { PLACE_OPTIONS, placeOf } from './place.ts';

/** `sinkside archive move --database URL` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values } = parseArgs({ args, options: PLACE_OPTIONS });
    const { folder, place, parts } = placeOf(values);
    if (!('database' in place)) throw new UsageError('Say where to: --database postgres://USER@HOST/NAME');
    const from = await openArchive({ folder }, warningTo(io));
    try {
      const to = await openArchive(place, warningTo(io));
      try {
        const { before } = await move(from, to, (table, rows) =>
          io.err(`${table}: ${rows} rows, the same in both\n`),
        );
        await noteMoved(folder, place.database);
        if (before > 0) io.err(`Went on behind ${before} rows that an earlier try had brought over.\n`);
      } finally {
        await to.close();
      }
    } finally {
      await from.close();
    }
    io.out(`Moved. From now on serve it with that database; sound stays in ${parts}.\n`);
  });
}
