import path from 'node:path';
import { textIfThere } from '../disk/wholeFile.ts';

/** The file in a rehearsal's folder that tells until when it is kept, where that was settled on another machine: a date as ISO 8601 has it. */
export const KEEP_UNTIL_FILE = 'keep-until';

/** The moment at which a rehearsal's folder is to be deleted, ms since 1970; null where none was settled. */
export async function keepUntilOf(folder: string): Promise<number | null> {
  const at = Date.parse((await textIfThere(path.join(folder, KEEP_UNTIL_FILE))) ?? '');
  return Number.isNaN(at) ? null : at;
}
