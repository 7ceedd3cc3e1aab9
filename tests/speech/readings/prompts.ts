import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { activeLevel, amplify, trimSilence } from '../level.ts';
import { randomFrom, seedOf } from '../noise.ts';
import { concatenate, readSamples } from '../sound.ts';
import { CACHE, SPOKEN_LEVEL } from '../voices.ts';
import type { Form } from './forms.ts';

/**
 * A human voice saying numbers: the prompts of a telephone system, Debian's asterisk-core-sounds-en-g722 (one woman, 16 kHz, CC-BY-SA-3.0),
 * laid end to end. Test data only: fetched, never committed.
 */

const PACKAGE = 'asterisk-core-sounds-en-g722';
const FOLDER = path.join(CACHE, 'prompts');
const DIGITS = path.join(FOLDER, 'usr/share/asterisk/sounds/en_US_f_Allison/digits');

/** Seconds between two prompts: that of fluent speech, in which a stop consonant's closure lasts as long. */
const GAP = 0.04;

const run = promisify(execFile);

/**
 * Fetches the prompts unless they are there.
 *
 * @throws {Error} apt-get, dpkg or ffmpeg fails
 */
export async function getPrompts(): Promise<void> {
  if (existsSync(path.join(DIGITS, '1.g722'))) return;
  await mkdir(FOLDER, { recursive: true });
  await run('apt-get', ['download', '-qq', PACKAGE], { cwd: FOLDER });
  const [file] = (await run('sh', ['-c', `ls ${PACKAGE}_*.deb`], { cwd: FOLDER })).stdout.trim().split('\n');
  await run('dpkg', ['-x', file ?? '', '.'], { cwd: FOLDER });
}

/** The prompts that say a number below 1000: "one hundred eighteen". */
function promptsOf(value: number): string[] {
  const [hundreds, rest] = [Math.floor(value / 100), value % 100];
  const front = hundreds > 0 ? [String(hundreds), 'hundred'] : [];
  if (rest === 0) return front.length > 0 ? front : ['0'];
  if (rest <= 20 || rest % 10 === 0) return [...front, String(rest)];
  return [...front, String(rest - (rest % 10)), String(rest % 10)];
}

/** What the voice says for a form of {@link spokenByPerson}; throws what ffmpeg does. */
export async function promptSound({ truth }: Form): Promise<Float32Array> {
  const pieces: Float32Array[] = [];
  for (const prompt of promptsOf(Object.values(truth)[0] ?? 0)) {
    const wav = path.join(FOLDER, `${prompt}.wav`);
    if (!existsSync(wav))
      await run('ffmpeg', [
        '-v',
        'error',
        '-f',
        'g722',
        '-i',
        path.join(DIGITS, `${prompt}.g722`),
        '-ar',
        '16000',
        '-y',
        wav,
      ]);
    pieces.push(trimSilence(await readSamples(wav)), new Float32Array(GAP * SAMPLE_RATE));
  }
  const spoken = concatenate(pieces.slice(0, -1));
  return amplify(spoken, SPOKEN_LEVEL - activeLevel(spoken));
}

/** Numbers said by the person alone, as answers to the coach: breaths, beats and millilitres. */
export function spokenByPerson(): Form[] {
  const random = randomFrom(seedOf('readings person'));
  const draw = (count: number, from: number, to: number, step = 1): number[] => [
    ...new Set(
      Array.from({ length: count }, () => from + step * Math.floor((random() * (to - from)) / step)),
    ),
  ];
  const forms = (skill: string, values: readonly number[]): Form[] =>
    values.map((value, i) => ({
      id: `person-${skill}-${value}`,
      skill,
      variants: {},
      text: promptsOf(value).join(' '),
      truth: { record: value },
      isAnswer: true,
      split: i % 2 === 0 ? 'dev' : 'held-out',
    }));
  return [
    ...forms('respirations', draw(40, 8, 45)),
    ...forms('radial-pulse', draw(60, 42, 150)),
    ...forms('urine-output', draw(50, 50, 1000, 25)),
  ];
}
