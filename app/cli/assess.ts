import { performance } from 'node:perf_hooks';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { SingleBar } from 'cli-progress';
import { assess } from '../listening/assess.ts';
import { BadSound } from '../listening/badSound.ts';
import { openSound } from '../listening/soundFile.ts';
import { openLibrary } from '../records/library.ts';
import { makeChecklist, UnknownVariant, vocabularyOf } from '../rehearsal/checklist.ts';
import { describeFault, FaultyFile, messageOf } from '../rehearsal/faults.ts';
import { minutes } from '../rehearsal/testClock.ts';
import { loadModel, ModelCorrupt, ModelMissing } from '../../models/load.ts';
import type { ExitCode, Io } from './io.ts';
import { describeAssessment, describeEvents } from './report.ts';
import { createListener } from '../listening/offlineListener.ts';

export const USAGE = `Usage: sinkside assess SOUND --skill ID [options]

Listens to a recorded narration and marks it against a skill's checklist.

  SOUND             WAV; with ffmpeg also FLAC, MP3, M4A, Ogg, WebM…; any sample rate, at most 2 hours
  --skill ID        the skill that was rehearsed ("sinkside skills check" lists them)
  --variant K=V     a variant of the skill, such as tap=pedal; may be given several times
  --skills DIR      a folder of skill files instead of the program's own
  --engine ID       the listening engine (moonshine)
  --model DIR       a folder that holds the model's files, or a model's id
  --json            print one JSON document (app/cli/assessment.schema.json) and nothing else
  --live            take the recording at real speed and show the marks as they fall

Exit codes: 0 assessed, 2 wrong usage, 3 bad input, 4 model missing or damaged.
`;

/** Engines that stand behind the listener seam. */
const ENGINES = ['moonshine'];

class UsageError extends Error {}

/** `sinkside assess …` */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  try {
    return await assessFile(args, io);
  } catch (error) {
    const say = (text: string, code: ExitCode): ExitCode => {
      io.err(`${text}\n`);
      return code;
    };
    if (error instanceof UsageError || error instanceof UnknownVariant) return say(error.message, 2);
    if (error instanceof BadSound || error instanceof FaultyFile) return say(error.message, 3);
    if (error instanceof ModelMissing || error instanceof ModelCorrupt) return say(error.message, 4);
    throw error;
  }
}

async function assessFile(args: string[], io: Io): Promise<ExitCode> {
  const { values, positionals } = parseOptions(args);
  const [file, ...rest] = positionals;
  if (file === undefined || rest.length > 0 || values.skill === undefined) throw new UsageError(USAGE);
  const engine = values.engine ?? ENGINES[0]!;
  if (!ENGINES.includes(engine))
    throw new UsageError(`There is no engine "${engine}"; there is: ${ENGINES.join(', ')}`);

  const library = await openLibrary(values.skills);
  const skill = library.skills.get(values.skill);
  if (!skill) {
    if (library.faults.length > 0) throw new FaultyFile(library.faults);
    throw new UsageError(
      `There is no skill "${values.skill}"; there is: ${[...library.skills.keys()].join(', ')}`,
    );
  }
  for (const fault of library.faults) io.err(`Left out: ${describeFault(fault)}\n`);
  const checklist = makeChecklist(skill, library.lexicon, library.rules, variantsOf(values.variant ?? []));

  const sound = await openSound(file);
  const model = await loadModel(values.model);
  for (const warning of model.warnings) io.err(`${warning}\n`);
  const detector = await readFile(
    fileURLToPath(import.meta.resolve('@ricky0123/vad-web/dist/silero_vad_v5.onnx')),
  );

  const bar =
    io.isTerminal && !values.live && !values.json
      ? new SingleBar({ format: 'Listening {bar} {percentage} % {at} of {of}', stream: process.stderr })
      : null;
  bar?.start(sound.seconds ?? 0, 0, {
    at: '0:00',
    of: sound.seconds === null ? '?' : minutes(sound.seconds),
  });
  const began = performance.now();
  const { assessment } = await assess(sound.chunks, {
    checklist,
    vocabulary: (open) => vocabularyOf(open, library.lexicon),
    engine: `${engine}/${model.id}`,
    makeListener: (onEvent) =>
      createListener({ model, detector, onEvent }).catch((error: unknown) => {
        const why = messageOf(error);
        throw new ModelCorrupt(
          `The speech model ${model.id} cannot be opened: ${why}. Run: npx sinkside models verify`,
        );
      }),
    clock: () => performance.now() / 1000,
    onProgress: (seconds) => bar?.update(seconds, { at: minutes(seconds) }),
    ...(values.live && {
      pace: (seconds: number) => sleep(Math.max(0, began + seconds * 1000 - performance.now())),
    }),
    onEvents: (events) => {
      if (values.live && !values.json)
        for (const line of describeEvents(events, checklist)) io.out(`${line}\n`);
    },
  }).finally(() => bar?.stop());
  const document = { ...assessment, warnings: [...sound.warnings, ...assessment.warnings] };
  io.out(
    values.json
      ? `${JSON.stringify(document, null, 2)}\n`
      : `${values.live ? '\n' : ''}${describeAssessment(document)}`,
  );
  return 0;
}

/** Throws what node:util's parseArgs throws, which `main` answers with the usage. */
function parseOptions(args: string[]) {
  return parseArgs({
    args,
    allowPositionals: true,
    options: {
      skill: { type: 'string' },
      variant: { type: 'string', multiple: true },
      skills: { type: 'string' },
      engine: { type: 'string' },
      model: { type: 'string' },
      json: { type: 'boolean' },
      live: { type: 'boolean' },
    },
  });
}

function variantsOf(pairs: readonly string[]): Record<string, string> {
  return Object.fromEntries(
    pairs.map((pair) => {
      const [name, value, ...rest] = pair.split('=');
      if (!name || !value || rest.length > 0)
        throw new UsageError(`--variant takes NAME=VALUE, not "${pair}"`);
      return [name, value];
    }),
  );
}
