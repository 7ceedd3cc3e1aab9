import { stat } from 'node:fs/promises';
import { BadSound } from './badSound.ts';
import { decodeWithFfmpeg, noSamples, probeSeconds } from './ffmpeg.ts';
import { SAMPLE_RATE } from './sampleRate.ts';
import { Resampler } from './resample.ts';
import { readWavHeader, readWavSamples, type Wav } from './wav.ts';

/** A recording opened for reading, once, from its beginning. */
export interface Sound {
  /** Length as far as it is known before reading; null when the file does not say. */
  readonly seconds: number | null;
  /** Remarks for the user, in whole sentences. Complete once `chunks` has been read to its end. */
  readonly warnings: readonly string[];
  /** Mono samples, −1…1 at 16 kHz, half a second at a time (the last may be shorter). Throws BadSound. */
  readonly chunks: AsyncIterable<Float32Array>;
}

/**
 * Longer than this is not a rehearsal, which lasts half an hour: far more likely the wrong file, or a recorder left
 * running. Seconds.
 */
const LONGEST = 2 * 60 * 60;

/** Rates in samples a second between which speech can be there at all and the resampler stays small. */
const RATES = { lowest: 4_000, highest: 192_000 };

/** Samples in a chunk: half a second. */
const CHUNK = SAMPLE_RATE / 2;

/**
 * Peak below which a recording is called silent: −60 dBFS, 33 steps of 16-bit sound. Breathing at an open microphone
 * lies above it; a muted one, at or near 0.
 */
const SILENT_PEAK = 10 ** (-60 / 20);

/** How much shorter than promised sound may be before it is said: containers round their lengths. Seconds. */
const SLACK = 0.5;

/**
 * Opens a recording of any usual kind: WAV by the project's own reader, all else through ffmpeg. Memory stays the
 * same however long the recording is.
 *
 * @throws {BadSound} there is no such file, or it holds no sound that can be read, or it is longer than two hours
 */
export async function openSound(file: string): Promise<Sound> {
  const found = await stat(file).catch((error: NodeJS.ErrnoException) => {
    throw new BadSound(
      error.code === 'ENOENT'
        ? `There is no file ${file}. Check the name.`
        : `${file} cannot be opened (${error.code ?? error.message}).`,
    );
  });
  if (found.isDirectory()) throw new BadSound(`${file} is a folder. Give one sound file.`);
  if (!found.isFile()) throw new BadSound(`${file} is not a regular file. Give a sound file.`);
  if (found.size === 0) throw new BadSound(`${file} is empty: nothing was recorded. Record it again.`);

  const warnings: string[] = [];
  const wav = await readWavHeader(file).catch((error: NodeJS.ErrnoException) => {
    if (error instanceof BadSound) throw error;
    throw new BadSound(`${file} cannot be read (${error.code ?? error.message}).`);
  });
  if (wav) return openWav(file, wav, warnings);
  const seconds = await probeSeconds(file);
  refuseLong(file, seconds ?? 0);
  const samples = watchLength(decodeWithFfmpeg(file, warnings), seconds, warnings);
  return { seconds, warnings, chunks: inChunks(file, samples, warnings) };
}

function openWav(file: string, wav: Wav, warnings: string[]): Sound {
  if (wav.rate < RATES.lowest || wav.rate > RATES.highest) {
    throw new BadSound(
      `${file} has ${wav.rate} samples a second; ${RATES.lowest} to ${RATES.highest} can be used. Record at 16000 or more.`,
    );
  }
  if (wav.frames === 0) throw noSamples(file);
  const seconds = wav.frames / wav.rate;
  refuseLong(file, seconds);
  if (wav.promised !== null && wav.promised > wav.frames)
    warnings.push(cutOff(wav.promised / wav.rate, seconds));
  return {
    seconds,
    warnings,
    chunks: inChunks(file, atHouseRate(readWavSamples(file, wav), wav.rate), warnings),
  };
}

function refuseLong(file: string, seconds: number): void {
  if (seconds <= LONGEST) return;
  throw new BadSound(
    `${file} is ${(seconds / 3600).toFixed(1)} hours long; ${LONGEST / 3600} hours is the most. A rehearsal lasts half an ` +
      `hour: is this the right file? Otherwise cut out the rehearsal.`,
  );
}

function cutOff(promised: number, there: number): string {
  return (
    `The recording breaks off: the header promises ${promised.toFixed(1)} s, ${there.toFixed(1)} s are there. ` +
    `Only what is there is marked.`
  );
}

async function* atHouseRate(
  samples: AsyncIterable<Float32Array>,
  rate: number,
): AsyncGenerator<Float32Array> {
  if (rate === SAMPLE_RATE) return yield* samples;
  const resampler = new Resampler(rate);
  for await (const piece of samples) yield resampler.push(piece);
  yield resampler.end();
}

async function* watchLength(
  samples: AsyncIterable<Float32Array>,
  promised: number | null,
  warnings: string[],
): AsyncGenerator<Float32Array> {
  let given = 0;
  for await (const piece of samples) {
    given += piece.length;
    yield piece;
  }
  if (promised !== null && given / SAMPLE_RATE < promised - SLACK)
    warnings.push(cutOff(promised, given / SAMPLE_RATE));
}

/** Cuts a stream into chunks of half a second, keeps it inside −1…1, and watches over length and level. */
async function* inChunks(
  file: string,
  samples: AsyncIterable<Float32Array>,
  warnings: string[],
): AsyncGenerator<Float32Array> {
  let chunk = new Float32Array(CHUNK);
  let filled = 0;
  let given = 0;
  let peak = 0;
  for await (const piece of samples) {
    for (let n = 0; n < piece.length; n++) {
      // Float files can hold anything. What is not a number becomes silence: one such sample would spoil a model's
      // whole answer.
      const kept = Math.max(-1, Math.min(1, piece[n] || 0));
      if (kept > peak || -kept > peak) peak = Math.abs(kept);
      chunk[filled++] = kept;
      if (filled === CHUNK) {
        given += CHUNK;
        refuseLong(file, given / SAMPLE_RATE);
        yield chunk;
        chunk = new Float32Array(CHUNK);
        filled = 0;
      }
    }
  }
  if (filled > 0) yield chunk.subarray(0, filled);
  if (peak < SILENT_PEAK) warnings.push('The recording is silent. Was the microphone on?');
}
