import { createHash } from 'node:crypto';
import { FileParts } from './fileParts.ts';
import { S3Parts } from './s3Parts.ts';

/** Files of attempts, kept once for each content. Hashes are SHA-256 as lower-case hex. */
export interface Parts {
  /** Where they are, for messages. */
  readonly where: string;
  has(sha256: string): Promise<boolean>;
  /** Keeps a content whole or not at all; what is there already stays. Throws {@link DamagedPart} where its hash is another. */
  put(sha256: string, content: Uint8Array): Promise<void>;
  /** Throws {@link MissingPart} and {@link DamagedPart}. */
  read(sha256: string): Promise<Buffer>;
  /** Removes a content, which need not be there. */
  remove(sha256: string): Promise<void>;
}

export class MissingPart extends Error {
  override readonly name = 'MissingPart';
  constructor(sha256: string, where: string) {
    super(`The file ${sha256} is missing in ${where}. Put it back from a backup.`);
  }
}

/** A content is not what its hash says. */
export class DamagedPart extends Error {
  override readonly name = 'DamagedPart';
  constructor(sha256: string, where: string) {
    super(
      `The file ${sha256} in ${where} is damaged: its content has another hash. Put it back from a backup.`,
    );
  }
}

/** Gives a content back if its hash is the one it should have. Throws {@link DamagedPart}. */
export function checked<T extends Uint8Array>(sha256: string, content: T, where: string): T {
  if (createHash('sha256').update(content).digest('hex') !== sha256) throw new DamagedPart(sha256, where);
  return content;
}

/** Where a content is below the place of all: in a folder of its first two digits, so that no folder gets too long. */
export function pathOf(sha256: string): string {
  if (!/^[0-9a-f]{64}$/.test(sha256)) throw new Error(`"${sha256}" is no SHA-256 in lower-case hex.`);
  return `${sha256.slice(0, 2)}/${sha256}`;
}

/**
 * The parts in a folder, or in an S3-compatible store by its address: `https://HOST/BUCKET/PREFIX`, region as `?region=…`. Its keys are
 * in SINKSIDE_S3_KEY and SINKSIDE_S3_SECRET.
 */
export function openParts(place: string, env: NodeJS.ProcessEnv = process.env): Parts {
  return /^https?:\/\//.test(place) ? S3Parts.at(place, env) : new FileParts(place);
}
