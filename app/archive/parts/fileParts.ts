import { randomUUID } from 'node:crypto';
import { mkdir, readFile, rename, rm } from 'node:fs/promises';
import path from 'node:path';
import { flushFolder, statOf, writeFlushed } from '../../disk/wholeFile.ts';
import { checked, MissingPart, pathOf, type Parts } from './parts.ts';

/** Parts as files in a folder. */
export class FileParts implements Parts {
  constructor(readonly where: string) {}

  async has(sha256: string): Promise<boolean> {
    return (await statOf(this.fileOf(sha256))) !== null;
  }

  async put(sha256: string, content: Uint8Array): Promise<void> {
    checked(sha256, content, this.where);
    if (await this.has(sha256)) return;
    const file = this.fileOf(sha256);
    const folder = path.dirname(file);
    await mkdir(folder, { recursive: true });
    // Two may bring the same content at once: each writes its own file, and the last rename changes nothing.
    const fresh = `${file}.${randomUUID()}.new`;
    try {
      await writeFlushed(fresh, content, 'wx');
      await rename(fresh, file);
    } catch (error) {
      await rm(fresh, { force: true }).catch(() => undefined);
      throw error;
    }
    await flushFolder(folder);
  }

  async read(sha256: string): Promise<Buffer> {
    const content = await readFile(this.fileOf(sha256)).catch((error: NodeJS.ErrnoException) => {
      throw error.code === 'ENOENT' ? new MissingPart(sha256, this.where) : error;
    });
    return checked(sha256, content, this.where);
  }

  async remove(sha256: string): Promise<void> {
    await rm(this.fileOf(sha256), { force: true });
  }

  private fileOf(sha256: string): string {
    return path.join(this.where, pathOf(sha256));
  }
}
