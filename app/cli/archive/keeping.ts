import { CannotMove } from '../../archive/keeping/move.ts';
import { CannotRestore } from '../../archive/keeping/restore.ts';
import { TablesDiffer } from '../../archive/keeping/rows.ts';
import { DamagedPart, MissingPart } from '../../archive/parts/parts.ts';
import { StoreRefused } from '../../archive/parts/s3Parts.ts';
import { ArchiveInUse } from '../../archive/store/embedded.ts';
import { NewerArchive } from '../../archive/store/migrate.ts';
import type { ExitCode, Io } from '../io.ts';
import { answering } from '../recorded/answering.ts';

const KNOWN = [
  CannotMove,
  CannotRestore,
  TablesDiffer,
  DamagedPart,
  MissingPart,
  StoreRefused,
  ArchiveInUse,
  NewerArchive,
];
/** Of node:net and PostgreSQL: no server there, no such database, not let in. */
const NOT_THERE = new Set([
  'ECONNREFUSED',
  'ENOTFOUND',
  'EHOSTUNREACH',
  'ETIMEDOUT',
  '3D000',
  '28P01',
  '28000',
]);

/** Runs a command that looks after an archive; what can go wrong there is told in one message. */
export function keeping(io: Io, work: () => Promise<void>): Promise<ExitCode> {
  return answering(io, async () => {
    try {
      await work();
      return 0;
    } catch (error) {
      const code = String((error as NodeJS.ErrnoException).code);
      if (NOT_THERE.has(code)) io.err(`The database cannot be reached: ${(error as Error).message}.\n`);
      else if (KNOWN.some((kind) => error instanceof kind)) io.err(`${(error as Error).message}\n`);
      else throw error;
      return 3;
    }
  });
}

/** Tells, a line each, what went wrong that nobody asked about. */
export const warningTo =
  (io: Io) =>
  (message: string): void =>
    io.err(`${message}\n`);

/** A size as people say it: `12.3 MB`. */
export function sizeText(bytes: number): string {
  const units = ['bytes', 'kB', 'MB', 'GB', 'TB'];
  let unit = 0;
  let size = bytes;
  for (; size >= 1000 && unit < units.length - 1; unit++) size /= 1000;
  return `${unit === 0 ? size : size.toFixed(1)} ${units[unit]}`;
}
