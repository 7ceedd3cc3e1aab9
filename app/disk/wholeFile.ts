import { open, readFile, rename, rm, stat } from 'node:fs/promises';
import path from 'node:path';

/**
 * Replaces a file by another content, whole: whatever happens meanwhile, either the old file or the new one is there.
 * Rejects as node:fs does, with the old file in place.
 *
 * @param mode who may read it, as node:fs has it; `0o600` for its owner alone
 */
export async function replaceFile(file: string, content: string, mode = 0o666): Promise<void> {
  const fresh = `${file}.new`;
  try {
    await writeFlushed(fresh, content, 'w', mode);
    await rename(fresh, file);
  } catch (error) {
    await rm(fresh, { force: true }).catch(() => undefined);
    throw error;
  }
  await flushFolder(path.dirname(file));
}

/** The text of a file; null where there is none. Rejects as node:fs does when one that is there cannot be read. */
export async function textIfThere(file: string): Promise<string | null> {
  return readFile(file, 'utf8').catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return null;
    throw error;
  });
}

/** Size in bytes and time of the last change, ms, of a file; null where there is none. */
export async function statOf(file: string): Promise<{ size: number; changedAt: number } | null> {
  const found = await stat(file).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT' || error.code === 'ENOTDIR') return null;
    throw error;
  });
  return found && { size: found.size, changedAt: found.mtimeMs };
}

/** Writes a file and brings it to the disk. `flag` is that of node:fs: `w` replaces what is there, `wx` refuses to. */
export async function writeFlushed(
  file: string,
  content: string | Uint8Array,
  flag: 'w' | 'wx',
  mode = 0o666,
): Promise<void> {
  const handle = await open(file, flag, mode);
  try {
    await handle.writeFile(content);
    await handle.sync();
  } finally {
    await handle.close();
  }
}

/** Brings a folder's entries to the disk. Windows opens no folders; its file system sees to that by itself. */
export async function flushFolder(folder: string): Promise<void> {
  if (process.platform === 'win32') return;
  const handle = await open(folder);
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

/** Whether an error of node:fs means that no more can be written: the disk, a quota or a file's greatest size is full. */
export function isFull(error: unknown): boolean {
  const code = (error as NodeJS.ErrnoException).code;
  return code === 'ENOSPC' || code === 'EDQUOT' || code === 'EFBIG';
}

/** What an error of node:fs means, in words. */
export function whyOf(error: Error): string {
  return isFull(error) ? 'The disk is full' : error.message;
}
