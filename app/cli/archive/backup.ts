import path from 'node:path';
import { parseArgs } from 'node:util';
import { backUp } from '../../archive/keeping/backup.ts';
import type { ExitCode, Io } from '../io.ts';
import { keeping, sizeText, warningTo } from './keeping.ts';
import { PLACE_OPTIONS, placeOf, withArchive } from './place.ts';

/** `sinkside archive backup [FOLDER]` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values, positionals } = parseArgs({ args, allowPositionals: true, options: PLACE_OPTIONS });
    const place = placeOf(values);
    const backups = path.resolve(positionals[0] ?? path.join(place.folder, 'backups'));
    const { folder, manifest } = await withArchive(place, warningTo(io), (archive, parts) =>
      backUp(archive, parts, backups, Date.now()),
    );
    const { tables, parts } = manifest;
    const rows = Object.values(tables).reduce((sum, table) => sum + table.rows, 0);
    io.out(`${folder}\n`);
    io.err(`${rows} rows, ${parts.count} files of sound of which ${sizeText(parts.bytes)} are new.\n`);
    if (folder.startsWith(place.folder))
      io.err('It lies beside the archive: copy the folder of all backups to another disk or machine.\n');
  });
}
