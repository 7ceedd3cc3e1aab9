import path from 'node:path';
import { parseArgs } from 'node:util';
import { restore } from '../../archive/keeping/restore.ts';
import type { ExitCode, Io } from '../io.ts';
import { UsageError } from '../recorded/answering.ts';
import { keeping, warningTo } from './keeping.ts';
import { PLACE_OPTIONS, placeOf, withArchive } from './place.ts';

/** `sinkside archive restore BACKUP` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values, positionals } = parseArgs({ args, allowPositionals: true, options: PLACE_OPTIONS });
    const [folder, ...rest] = positionals;
    if (folder === undefined || rest.length > 0)
      throw new UsageError('Name the backup: sinkside archive restore FOLDER/20260131T093000Z');
    const { madeAt, tables, parts } = await withArchive(placeOf(values), warningTo(io), (archive, parts) =>
      restore(path.resolve(folder), archive, parts),
    );
    const rows = Object.values(tables).reduce((sum, table) => sum + table.rows, 0);
    io.err(`Restored as it was at ${madeAt}: ${rows} rows and ${parts.count} files, counted and hashed.\n`);
  });
}
