import { createHash } from 'node:crypto';
import { zipSync, type Zippable } from 'fflate';
import { attemptHash, type CarriedAttempt, type Manifest } from '../../app/bundle/manifest.ts';

/** Bundles as somebody could make them without the program: with any names, sizes and hashes. */

export const RECORD = '20260131T093000Z-hand-washing';
export const JOURNAL = Buffer.from('{"type":"made up"}\n'.repeat(40));
export const SOUND = Buffer.from(Uint8Array.from({ length: 5000 }, (_, i) => (i * i) % 251));

export const sha256 = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');

/** An attempt as a manifest lists it, with what its files really are. */
export function listed(
  record = RECORD,
  journal: Uint8Array = JOURNAL,
  sound: Uint8Array | null = SOUND,
): CarriedAttempt {
  const files: CarriedAttempt['files'] = [
    { path: 'journal.jsonl', bytes: journal.length, sha256: sha256(journal) },
    ...(sound ? [{ path: 'sound.flac' as const, bytes: sound.length, sha256: sha256(sound) }] : []),
  ];
  return { record, sha256: attemptHash(files), trainee: null, keepUntil: null, files };
}

export const manifestOf = (attempts: readonly CarriedAttempt[]): Manifest => ({
  format: 'sinkside-bundle',
  version: 1,
  madeAt: '2026-02-01T08:00:00.000Z',
  program: 'sinkside 0.1.0',
  attempts: [...attempts],
  skills: [],
});

/** A ZIP file with this manifest, whatever it is, and these files. */
export function zipped(manifest: unknown, files: Zippable): Buffer {
  const text = typeof manifest === 'string' ? manifest : JSON.stringify(manifest);
  return Buffer.from(zipSync({ 'manifest.json': Buffer.from(text), ...files }));
}

/** A bundle with one attempt that is right in every way. */
export const right = (): Buffer =>
  zipped(manifestOf([listed()]), {
    [`attempts/${RECORD}/journal.jsonl`]: JOURNAL,
    [`attempts/${RECORD}/sound.flac`]: [SOUND, { level: 0 }],
  });

/** Bytes with one text in the place of another that is as long, wherever it stands. */
export function renamed(bytes: Buffer, from: string, to: string): Buffer {
  if (from.length !== to.length) throw new Error('A name can only be replaced by one that is as long.');
  return Buffer.from(bytes.toString('latin1').replaceAll(from, to), 'latin1');
}
