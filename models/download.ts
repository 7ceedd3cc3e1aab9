import { open, rm } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { sha256OfFile, sizeOfFile } from './verify.ts';
import type { ModelFile } from './catalog.ts';

/** A source could not give a model; the message says why, and the next source is tried. */
export class SourceFailed extends Error {
  override readonly name = 'SourceFailed';
}

/** How often a broken connection is taken up again before the source is given up. */
const TRIES = 3;

/** No byte for so long means that the connection is dead. Milliseconds; a slow line still sends some. */
const STALLED = 30_000;

/**
 * Bytes of a file of unknown size beyond which it is none: the largest models that run in a browser have some hundred
 * megabytes.
 */
const MOST_BYTES = 500e6;

/** The connection ended before the file did, or brought a part that does not fit; worth another try. */
class BrokenOff extends Error {}

/**
 * Gets one file of a model over HTTP into `part`, going on from what an earlier run left there, and checks it where its
 * digest is known.
 * `onBytes` hears how many bytes of the file are there.
 *
 * @throws {SourceFailed} it cannot be had, or is not the file the catalogue names (then `part` is gone)
 */
export async function download(
  url: string,
  part: string,
  file: ModelFile,
  effects: { readonly fetch: typeof fetch; readonly onBytes: (bytes: number) => void },
): Promise<void> {
  const resumed = ((await sizeOfFile(part)) ?? 0) > 0;
  await fetchWhole(url, part, file, effects);
  if (file.sha256 === null || (await sha256OfFile(part)) === file.sha256) return;
  await rm(part);
  // The fault may lie in the part that was there before: begin again, once.
  if (resumed) return download(url, part, file, effects);
  throw new SourceFailed(`${url}: what came has a wrong checksum, so it is not used`);
}

async function fetchWhole(
  url: string,
  part: string,
  file: ModelFile,
  effects: { readonly fetch: typeof fetch; readonly onBytes: (bytes: number) => void },
): Promise<void> {
  for (let tried = 1; ; tried++) {
    try {
      return await fetchRest(url, part, file, effects);
    } catch (error) {
      if (!(error instanceof BrokenOff)) throw error;
      if (tried === TRIES) {
        const there = (await sizeOfFile(part)) ?? 0;
        throw new SourceFailed(
          `${url}: ${error.message} at ${there} of ${file.bytes} bytes; run again to go on`,
        );
      }
      await sleep(200 * tried);
    }
  }
}

async function fetchRest(
  url: string,
  part: string,
  file: ModelFile,
  { fetch, onBytes }: { readonly fetch: typeof globalThis.fetch; readonly onBytes: (bytes: number) => void },
): Promise<void> {
  const isKnown = file.sha256 !== null;
  let most = isKnown ? file.bytes : MOST_BYTES;
  let have = (await sizeOfFile(part)) ?? 0;
  if (have > most) {
    await rm(part);
    have = 0;
  }
  onBytes(have);
  if (isKnown && have === most) return;

  const abort = new AbortController();
  let watchdog = setTimeout(() => abort.abort(), STALLED);
  try {
    // Compression would make the ranges count something other than the file's bytes.
    const headers = { 'accept-encoding': 'identity', ...(have > 0 ? { range: `bytes=${have}-` } : {}) };
    const response = await fetch(url, { headers, signal: abort.signal }).catch((error: unknown) => {
      throw new SourceFailed(`${url}: ${abort.signal.aborted ? 'no answer' : reason(error)}`);
    });
    const goesOn =
      response.status === 206 && response.headers.get('content-range')?.startsWith(`bytes ${have}-`);
    if (have > 0 && !goesOn) {
      // The server knows no ranges, or has another file by now.
      await rm(part);
      have = 0;
    }
    if (!goesOn && response.status !== 200) {
      await response.body?.cancel();
      if (response.status === 416 || response.status === 206)
        throw new BrokenOff('the server could not go on');
      throw new SourceFailed(`${url}: the server answered ${response.status} ${response.statusText}`);
    }
    const length = Number(response.headers.get('content-length') ?? NaN);
    if (!isKnown && length > 0) most = Math.min(most, have + length);
    const handle = await open(part, 'a');
    try {
      const reader = response.body!.getReader();
      for (;;) {
        const piece = await reader.read().catch((error: unknown) => {
          throw new BrokenOff(
            abort.signal.aborted ? 'the connection stalled' : `the connection broke off (${reason(error)})`,
          );
        });
        if (piece.done) break;
        clearTimeout(watchdog);
        watchdog = setTimeout(() => abort.abort(), STALLED);
        have += piece.value.length;
        if (have > most) {
          abort.abort();
          throw new SourceFailed(`${url}: more came than the ${most} bytes of the file, so it is not used`);
        }
        await handle.writeFile(piece.value);
        onBytes(have);
      }
    } finally {
      await handle.close();
    }
    if (have < most && (isKnown || length > 0)) throw new BrokenOff('the connection broke off');
  } finally {
    clearTimeout(watchdog);
  }
}

/** What fetch's bare "fetch failed" hides: the code of its cause, in words where it is a common one. */
function reason(error: unknown): string {
  const { code, message } = (
    error instanceof Error && error.cause ? error.cause : error
  ) as NodeJS.ErrnoException;
  switch (code) {
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
      return 'the host was not found; is the network there?';
    case 'ECONNREFUSED':
      return 'the connection was refused';
    default:
      return code ?? message;
  }
}
