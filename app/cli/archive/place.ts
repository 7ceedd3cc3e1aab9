import path from 'node:path';
import { dataFolder } from '../../disk/dataFolder.ts';
import { checkWhole } from '../../archive/keeping/move.ts';
import { openParts, type Parts } from '../../archive/parts/parts.ts';
import { openArchive, type Archive, type Place } from '../../archive/store/connection.ts';

/** Where an archive is; all its commands take these. */
export const PLACE_OPTIONS = {
  folder: { type: 'string' },
  database: { type: 'string' },
  parts: { type: 'string' },
} as const;

export const PLACE_USAGE = `  --folder DIR      the archive's folder, by default "archive" in your data folder
  --database URL    a PostgreSQL server's database, postgres://USER@HOST/NAME, instead of the one built in;
                    or in SINKSIDE_DATABASE, which no list of processes shows
  --parts PLACE     where sound is: a folder, by default "parts" in the archive's; or an S3-compatible store, https://HOST/BUCKET
`;

export interface ArchivePlace {
  /** The archive's folder, whether its database is there or not. */
  readonly folder: string;
  readonly place: Place;
  /** A folder or an address. */
  readonly parts: string;
}

/** The place that a command's options name. */
export function placeOf(
  values: { folder?: string | undefined; database?: string | undefined; parts?: string | undefined },
  env: NodeJS.ProcessEnv = process.env,
): ArchivePlace {
  const folder = path.resolve(values.folder ?? path.join(dataFolder(env), 'archive'));
  const database = values.database ?? env['SINKSIDE_DATABASE'];
  const place = database ? { database } : { folder };
  return { folder, place, parts: values.parts ?? env['SINKSIDE_PARTS'] ?? path.join(folder, 'parts') };
}

/** Opens an archive to use it. @throws {CannotMove} it was moved elsewhere, or is not whole yet */
export async function openWhole(place: Place, warn: (message: string) => void): Promise<Archive> {
  const archive = await openArchive(place, warn);
  try {
    await checkWhole(place, archive);
    return archive;
  } catch (error) {
    await archive.close();
    throw error;
  }
}

/** Opens an archive for one thing, and closes it. */
export async function withArchive<T>(
  { place, parts }: ArchivePlace,
  warn: (message: string) => void,
  work: (archive: Archive, parts: Parts) => Promise<T>,
): Promise<T> {
  const archive = await openWhole(place, warn);
  try {
    return await work(archive, openParts(parts));
  } finally {
    await archive.close();
  }
}
