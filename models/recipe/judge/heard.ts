/**
 * Lines as the recogniser garbles them, for training the judge: dev narrations and the recipe's procedures, spoken by robotic
 * voices, some lines run together, under a tap at several levels, heard by the real chain.
 *
 *     npx tsx models/recipe/judge/heard.ts OUT.jsonl [--round N] [--only TEXT]
 *
 * One JSON object a line of output: what was said in the stretch that was heard, as labels, and what was heard. What is there
 * already is not heard again.
 */
import { appendFileSync, existsSync, readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { parseArgs } from 'node:util';
import { parse } from 'yaml';
import { beamSearch, greedy } from '../../../app/listening/beamSearch.ts';
import { biasOf } from '../../../app/listening/bias.ts';
import { SAMPLE_RATE } from '../../../app/listening/listener.ts';
import { SpeechModel } from '../../../app/listening/speechModel.ts';
import { openLibrary } from '../../../app/records/library.ts';
import { makeChecklist, vocabularyOf } from '../../../app/rehearsal/checklist.ts';
import { loadNarrations, type Line } from '../../../tests/speech/narration.ts';
import { makeNoise, mix, randomFrom, seedOf } from '../../../tests/speech/noise.ts';
import { concatenate } from '../../../tests/speech/sound.ts';
import { prepare, say, VOICES, type VoiceId } from '../../../tests/speech/voices.ts';
import { loadModel } from '../../load.ts';

/** joe measures, so it teaches nothing. */
const TEACHERS: readonly VoiceId[] = ['flite-slt', 'flite-rms', 'flite-kal16'];
/** dB of speech over the tap; null is a closed tap. */
const LEVELS: readonly (number | null)[] = [null, 20, 15, 10, 10, 5];
/** Share of lines that are run together with the next, as speech detection joins them where the pause is short. */
const JOINED = 0.15;
/** Silence around a line, in samples: 0.15 s. */
const EDGE = new Float32Array(2400);
const NOISE_SECONDS = 12;

type ScriptLine = Pick<Line, 'say' | 'by' | 'credits' | 'either' | 'note'>;

interface Script {
  readonly id: string;
  readonly procedure: string;
  readonly phrases: readonly string[];
  readonly lines: readonly ScriptLine[];
}

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { round: { type: 'string', default: '1' }, only: { type: 'string', default: '' } },
});
const out = positionals[0];
if (out === undefined) throw new Error('Say where the lines go: heard.ts OUT.jsonl');
const done = new Set(
  existsSync(out)
    ? readFileSync(out, 'utf8')
        .split('\n')
        .filter(Boolean)
        .map((line) => (JSON.parse(line) as { script: string }).script)
    : [],
);

const files = await loadModel('moonshine');
if (files.engine !== 'moonshine') throw new Error('The recipe hears with moonshine.');
const model = await SpeechModel.open(files);

for (const script of await scripts()) {
  const name = `${script.id}#${values.round}`;
  if (done.has(name) || !script.id.includes(values.only)) continue;
  const random = randomFrom(seedOf(name));
  const pick = <T>(of: readonly T[]): T => of[Math.floor(random() * of.length)]!;
  const voice = pick(TEACHERS);
  const level = pick(LEVELS);
  const voiceOf = (line: ScriptLine): VoiceId => (line.by === 'other' ? VOICES[voice].other : voice);
  await prepare(script.lines.map((line) => ({ voice: voiceOf(line), text: line.say })));
  // Half of them are heard with the skill's phrases in mind, which makes other mistakes than none.
  const bias = script.phrases.length > 0 && random() < 0.5 ? biasOf(script.phrases, model.tokens) : null;
  const noise =
    level === null ? null : await makeNoise('tap', NOISE_SECONDS * SAMPLE_RATE, seedOf(name), voice);
  const heard = [];
  for (let at = 0; at < script.lines.length;) {
    const lines = script.lines.slice(at, at + (random() < JOINED ? 2 : 1));
    at += lines.length;
    const sounds = [];
    for (const line of lines) sounds.push(EDGE, await say({ voice: voiceOf(line), text: line.say }));
    const speech = concatenate([...sounds, EDGE]);
    const samples = noise && level !== null ? mix(speech, longEnough(noise, speech.length), level) : speech;
    const sound = await model.encode(samples);
    const { ids } = bias ? await beamSearch(model, sound, bias) : await greedy(model, sound);
    heard.push({
      script: name,
      procedure: script.procedure,
      voice,
      level,
      heard: model.tokens.decode(ids).trim(),
      said: lines.map(({ say: text, by, credits, either, note }) => ({
        say: text,
        by,
        credits,
        either,
        ...(note !== undefined && { note }),
      })),
    });
  }
  appendFileSync(out, heard.map((line) => `${JSON.stringify(line)}\n`).join(''));
  process.stderr.write(`${name} ${voice} ${level ?? 'clean'} ${heard.length}\n`);
}
process.exit(0);

function longEnough(noise: Float32Array, length: number): Float32Array {
  return noise.length >= length ? noise.subarray(0, length) : longEnough(concatenate([noise, noise]), length);
}

async function scripts(): Promise<Script[]> {
  const library = await openLibrary();
  const narrations = (await loadNarrations())
    .filter(({ split }) => split === 'dev')
    .map(({ id, skill, variants, lines }): Script => {
      const phrases = vocabularyOf(
        makeChecklist(library.skills.get(skill)!, library.lexicon, library.rules, variants),
        library.lexicon,
      );
      return { id, procedure: skill, phrases, lines };
    });
  const folder = path.join(import.meta.dirname, '../procedures');
  const procedures = readdirSync(folder)
    .filter((file) => file.endsWith('.yaml'))
    .flatMap((file): Script[] => {
      const {
        id,
        narrations: people,
        traps,
      } = parse(readFileSync(path.join(folder, file), 'utf8')) as {
        id: string;
        narrations: { lines: Partial<Line>[] }[];
        traps: { say: string }[];
      };
      const whole = (line: Partial<Line>): ScriptLine => ({
        say: line.say!,
        by: 'trainee',
        credits: line.credits ?? [],
        either: line.either ?? [],
      });
      return [...people.map((person) => person.lines), traps].map((lines, i) => ({
        id: `${id}-${i}`,
        procedure: id,
        phrases: [],
        lines: lines.map(whole),
      }));
    });
  return [...narrations, ...procedures];
}
