import { createHash, randomUUID } from 'node:crypto';
import path from 'node:path';
import { textIfThere } from '../disk/wholeFile.ts';

/**
 * A journal has one writer: whoever has the token that was given last. The rehearsal's folder keeps only its digest, so that
 * who reads or copies the folder cannot write; it is on disk, so that a page may go on when the host was started again.
 */
export interface Writer {
  readonly token: string;
  /** What the file `writer` holds of it. */
  readonly mark: string;
}

/** The file in a rehearsal's folder that tells its writer. */
export const WRITER_FILE = 'writer';

/** A writer that there has never been. */
export function newWriter(): Writer {
  const token = randomUUID();
  return { token, mark: markOf(token) };
}

/**
 * Who writes the rehearsals of a data folder, read from disk once each: pieces of sound come twice a second. Nobody else changes a
 * `writer` file meanwhile, for one program holds the folder.
 */
export class Writers {
  private readonly marks = new Map<string, string>();

  /** Whether a token is that of the writer of a rehearsal, in its folder. A folder of an older program has no writer. */
  async isWriter(id: string, folder: string, token: string): Promise<boolean> {
    const mark = this.marks.get(id) ?? (await textIfThere(path.join(folder, WRITER_FILE)));
    if (mark === null) return false;
    this.marks.set(id, mark);
    return mark === markOf(token);
  }

  /** What is known of a rehearsal's writer holds no longer. */
  forget(id: string): void {
    this.marks.delete(id);
  }
}

const markOf = (token: string): string => createHash('sha256').update(token).digest('hex');

/** Who would add to a rehearsal, or delete it, is not its writer; nothing was changed. */
export class OtherWriter extends Error {
  override readonly name = 'OtherWriter';
  constructor(id: string) {
    super(`Another window writes rehearsal "${id}", or went on with it.`);
  }
}
