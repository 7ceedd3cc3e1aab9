import path from 'node:path';
import { parseArgs } from 'node:util';
import { statusOf, type Status } from '../../archive/keeping/status.ts';
import { progressLine } from '../../archive/work/progress.ts';
import type { ExitCode, Io } from '../io.ts';
import { keeping, sizeText, warningTo } from './keeping.ts';
import { PLACE_OPTIONS, placeOf, withArchive } from './place.ts';

/** `sinkside archive status` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values } = parseArgs({
      args,
      options: { ...PLACE_OPTIONS, backups: { type: 'string' }, json: { type: 'boolean' } },
    });
    const place = placeOf(values);
    const backups = values.backups ?? path.join(place.folder, 'backups');
    const status = await withArchive(place, warningTo(io), (archive) =>
      statusOf(archive, place.folder, backups),
    );
    io.out(values.json ? `${JSON.stringify(status, null, 2)}\n` : describeStatus(status));
  });
}

function describeStatus(status: Status): string {
  const {
    program,
    migration,
    database,
    attempts,
    parts,
    stations,
    deletionsUntold,
    queue,
    markings,
    backups,
    disk,
  } = status;
  const silent = stations.longestSilent;
  const never = (at: string | null): string => at ?? 'never';
  return [
    `Program    ${program}, tables at ${migration}`,
    `Database   ${database.kind}, PostgreSQL ${database.version}, ${sizeText(database.bytes)}`,
    `Attempts   ${attempts.count}, the last taken in: ${never(attempts.lastTakenAt)}`,
    `Sound      ${parts.count} files, ${sizeText(parts.bytes)}`,
    `Stations   ${stations.count}${silent ? `; longest not heard of: ${silent.name}, last ${never(silent.lastSeenAt)}` : ''}`,
    `Deletions  ${deletionsUntold} that a station has not carried out yet`,
    `Queue      ${queue.waiting} waiting, ${queue.active} at work, ${queue.failed} failed${queue.oldestWaitingAt ? `; the oldest since ${queue.oldestWaitingAt}` : ''}`,
    ...markings.map((marking) => `Marking    ${progressLine(marking)}`),
    `Backups    ${backups.count === 0 ? 'none: make one with "sinkside archive backup"' : `${backups.count}, the newest ${never(backups.newest)}, the oldest ${never(backups.oldest)}`}`,
    `Disk       ${disk ? `${sizeText(disk.free)} free of ${sizeText(disk.size)}` : 'unknown'}`,
    '',
  ].join('\n');
}
