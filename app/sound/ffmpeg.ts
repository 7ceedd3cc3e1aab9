import { spawn } from 'node:child_process';
import path from 'node:path';
import { z } from 'zod';
import { BadSound } from './badSound.ts';
import { SAMPLE_RATE } from './sampleRate.ts';

/**
 * Containers that ffmpeg may open. Play lists and their like stay out: they would make it read other files or
 * addresses; so do pictures and terminal text, which it would take for a film.
 */
const CONTAINERS = [
  ...[
    'wav',
    'w64',
    'rf64',
    'aiff',
    'au',
    'caf',
    'flac',
    'mp3',
    'aac',
    'ac3',
    'amr',
    'ogg',
    'opus',
    'wv',
    'ape',
  ],
  ...['mov', 'mp4', 'm4a', '3gp', '3g2', 'mj2', 'matroska', 'webm', 'asf', 'avi', 'mpeg', 'mpegts'],
].join(',');

const INPUT = ['-protocol_whitelist', 'file,pipe', '-format_whitelist', CONTAINERS, '-i'];

const ProbeSchema = z.object({
  streams: z.array(z.object({ codec_type: z.string().optional() })).default([]),
  format: z.object({ duration: z.string().optional() }).optional(),
});

/**
 * Asks ffprobe how long the sound of a file is. Seconds, or null when the container does not say.
 *
 * @throws {BadSound} ffmpeg is missing, the file is no sound, or it holds no audio stream
 */
export async function probeSeconds(file: string): Promise<number | null> {
  const entries = 'stream=codec_type:format=duration';
  const args = ['-v', 'warning', '-show_entries', entries, '-of', 'json', ...INPUT, asInput(file)];
  let answer = '';
  const ended = run('ffprobe', args, file);
  for await (const piece of ended.output) answer += piece.toString();
  const { code, complaints } = await ended.result;
  if (code !== 0) throw notSound(file, complaints);
  const probe = ProbeSchema.parse(JSON.parse(answer));
  if (!probe.streams.some((stream) => stream.codec_type === 'audio')) {
    throw new BadSound(
      `${file} holds no sound: it has no audio stream. Give a recording of the rehearsal's sound.`,
    );
  }
  // Said of files without an index, chiefly MP3 of varying bit rate: the guess can be far off, so it is no promise.
  if (complaints.includes('Estimating duration')) return null;
  const seconds = Number(probe.format?.duration);
  return Number.isFinite(seconds) && seconds > 0 ? seconds : null;
}

/**
 * Decodes the first audio stream of a file to mono samples at 16 kHz, in pieces as they come from the pipe.
 * Adds to `warnings` what ffmpeg stumbled over when it could go on.
 *
 * @throws {BadSound} ffmpeg is missing or could decode nothing
 */
export async function* decodeWithFfmpeg(file: string, warnings: string[]): AsyncGenerator<Float32Array> {
  const form = ['-map', '0:a:0', '-ac', '1', '-ar', String(SAMPLE_RATE), '-f', 'f32le', 'pipe:1'];
  const ended = run('ffmpeg', ['-nostdin', '-v', 'error', ...INPUT, asInput(file), ...form], file);
  let given = 0;
  let rest = Buffer.alloc(0);
  try {
    for await (const piece of ended.output) {
      const bytes = Buffer.concat([rest, piece]);
      const samples = new Float32Array(Math.floor(bytes.length / 4));
      for (let n = 0; n < samples.length; n++) samples[n] = bytes.readFloatLE(n * 4);
      rest = bytes.subarray(samples.length * 4);
      given += samples.length;
      yield samples;
    }
    const { code, complaints } = await ended.result;
    if (given === 0) throw code === 0 ? noSamples(file) : notSound(file, complaints);
    if (code !== 0 || complaints !== '') {
      warnings.push(`The file is damaged in places: ${lastLine(complaints)}`);
    }
  } finally {
    ended.stop();
  }
}

/** The error for a file that is well-formed and empty. */
export function noSamples(file: string): BadSound {
  return new BadSound(`${file} has a header and no samples: nothing was recorded. Record it again.`);
}

function notSound(file: string, complaints: string): BadSound {
  return new BadSound(
    `${file} is not a sound file that can be read (${lastLine(complaints)}). Give a WAV, FLAC, MP3, M4A, Ogg or WebM ` +
      `recording.`,
  );
}

/** ffmpeg's last complaint without the address of the part that made it ("[mp3 @ 0x55…]"). */
function lastLine(complaints: string): string {
  const lines = complaints
    .split('\n')
    .filter((line) => line.trim() && !line.includes('Last message repeated'));
  const line = lines.at(-1) ?? '';
  return line.replace(/^\[[^\]]*\] */, '').replace(/^.*: (?=Invalid data)/, '') || 'no reason given';
}

/** Keeps a name such as "-x.mp3" or "a:b.ogg" from being taken for an option or a protocol. */
function asInput(file: string): string {
  return `file:${path.resolve(file)}`;
}

interface Run {
  readonly output: AsyncIterable<Buffer>;
  readonly result: Promise<{ code: number | null; complaints: string }>;
  stop(): void;
}

function run(program: 'ffmpeg' | 'ffprobe', args: readonly string[], file: string): Run {
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'] });
  let complaints = '';
  child.stderr.on('data', (piece: Buffer) => {
    // A badly damaged file makes a complaint a frame: the last ones are enough.
    complaints = (complaints + piece.toString()).slice(-8192);
  });
  const result = new Promise<{ code: number | null; complaints: string }>((resolve, reject) => {
    child.on('error', (error: NodeJS.ErrnoException) => {
      reject(
        new BadSound(
          error.code === 'ENOENT'
            ? `${file} is not a plain WAV file, and reading other kinds takes ffmpeg, which is not installed. ` +
                `Install it (Debian: apt-get install ffmpeg; macOS: brew install ffmpeg), or give a WAV file.`
            : `${program} cannot be run to read ${file}: ${error.message}`,
        ),
      );
    });
    child.on('close', (code) => resolve({ code, complaints }));
  });
  // Awaited only after the output has ended; until then its failure must not count as unhandled.
  result.catch(() => undefined);
  return { output: child.stdout, result, stop: () => void child.kill() };
}
