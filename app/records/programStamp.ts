import { readdir, stat } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import program from '../../package.json' with { type: 'json' };

/** `app`, or the folder that it is built into. */
const CODE = path.join(path.dirname(fileURLToPath(import.meta.url)), '..');

/**
 * Stands for the program as it is: its version and when its newest file was written. What another program marked may be marked
 * otherwise by this one.
 */
export async function programStamp(): Promise<string> {
  try {
    const names = await readdir(CODE, { recursive: true });
    const written = await Promise.all(names.map(async (name) => (await stat(path.join(CODE, name))).mtimeMs));
    return `${program.version} ${written.reduce((newest, at) => Math.max(newest, at), 0)}`;
  } catch {
    // An archive that lists no folders holds a program that was released: its version says enough.
    return program.version;
  }
}
