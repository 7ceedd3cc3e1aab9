import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { performance } from 'node:perf_hooks';
import { parseArgs } from 'node:util';
import { assess, assessTranscript } from '../../listening/assess.ts';
import { packagedFiles, readJudge } from '../../engines/packaged.ts';
import { Judge } from '../../meaning/judge.ts';
import { openLibrary, type Library } from '../../library/library.ts';
import { makeChecklist, vocabularyOf, type Checklist } from '../../skills/checklist.ts';
import { describeFault, FaultyFile } from '../../faults/faults.ts';
import { BadTranscript, readTranscript, type TranscriptKind } from '../../listening/transcript.ts';
import { answering, UsageError } from './answering.ts';
import type { ExitCode, Io } from '../io.ts';
import { openRecording, RECORDING_OPTIONS } from './recording.ts';
import { describeAssessment, describeEvents } from './report.ts';

export const USAGE = `Usage: sinkside assess FILE --skill ID [options]

Listens to a recorded narration, or reads a transcript of one, and marks it against a skill's checklist.

  FILE              WAV; with ffmpeg also FLAC, MP3, M4A, Ogg, WebM…; any sample rate, at most 2 hours; or a transcript
                    in UTF-8: .vtt, .srt, or .txt with one saying a line, whose times are estimated
  --skill ID        the skill that was rehearsed ("sinkside skills check" lists them)
  --variant K=V     a variant of the skill, such as tap=pedal; may be given several times
  --skills DIR      a folder of skill files instead of the program's own
  --continued       it begins as a later skill of a test: hands just washed, the resident known
  --engine ID       the listening engine: moonshine (the usual one), vosk, or both at once
  --model WHICH     a model's id, or a folder that holds its files; for vosk also its .zip or .tar.gz
  --json            print one JSON document (app/cli/recorded/assessment.schema.json) and nothing else
  --live            take the recording at real speed and show the marks as they fall

Exit codes: 0 assessed, 2 wrong usage, 3 bad input, 4 model missing or damaged.
`;

/** `sinkside assess …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, () => assessFile(args, io));
}

async function assessFile(args: string[], io: Io): Promise<ExitCode> {
  const { values, positionals } = parseOptions(args);
  const [file, ...rest] = positionals;
  if (file === undefined || rest.length > 0 || values.skill === undefined) throw new UsageError(USAGE);

  const library = await openLibrary(values.skills);
  const checklist = openChecklist(library, { skill: values.skill, variant: values.variant }, io);

  const kind = kindOf(file);
  if (kind) {
    if (values.engine !== undefined || values.model !== undefined || values.live)
      throw new UsageError('--engine, --model and --live are for recordings; a transcript is only read.');
    const assessment = await assessTranscript(
      readTranscript(file, kind, await readText(file)),
      {
        checklist,
        engine: 'transcript',
        continued: values.continued ?? false,
        clock: () => performance.now() / 1000,
      },
      await Judge.open(await readJudge(packagedFiles())),
    );
    io.out(values.json ? `${JSON.stringify(assessment, null, 2)}\n` : describeAssessment(assessment));
    return 0;
  }

  const { sound, engine, listening, close } = await openRecording(file, values, io);
  const { assessment } = await assess(sound.chunks, {
    ...listening,
    checklist,
    engine,
    continued: values.continued ?? false,
    vocabulary: (open) => vocabularyOf(open, library.lexicon),
    onEvents: (events) => {
      if (values.live && !values.json)
        for (const line of describeEvents(events, checklist)) io.out(`${line}\n`);
    },
  }).finally(close);
  const document = { ...assessment, warnings: [...sound.warnings, ...assessment.warnings] };
  io.out(
    values.json
      ? `${JSON.stringify(document, null, 2)}\n`
      : `${values.live ? '\n' : ''}${describeAssessment(document)}`,
  );
  return 0;
}

/**
 * The checklist that options name; files of the library that were left out are told.
 *
 * @throws {UsageError | FaultyFile | UnknownVariant}
 */
export function openChecklist(
  library: Library,
  { skill: id, variant }: { readonly skill: string; readonly variant: readonly string[] | undefined },
  io: Io,
): Checklist {
  const skill = library.skills.get(id);
  if (!skill) {
    if (library.faults.length > 0) throw new FaultyFile(library.faults);
    throw new UsageError(`There is no skill "${id}"; there is: ${[...library.skills.keys()].join(', ')}`);
  }
  for (const fault of library.faults) io.err(`Left out: ${describeFault(fault)}\n`);
  return makeChecklist(skill, library.lexicon, library.rules, variantsOf(variant ?? []));
}

/** What a transcript is by its name; null for anything else, which is taken for sound. */
function kindOf(file: string): TranscriptKind | null {
  const ending = path.extname(file).slice(1).toLowerCase();
  return ending === 'vtt' || ending === 'srt' || ending === 'txt' ? ending : null;
}

/** Bytes beyond which a text is no transcript of two hours. */
const LARGEST = 4_000_000;

async function readText(file: string): Promise<string> {
  const bytes = await readFile(file).catch((error: NodeJS.ErrnoException) => {
    throw new BadTranscript(
      error.code === 'ENOENT'
        ? `There is no file ${file}. Check the name.`
        : `${file} cannot be read (${error.code ?? error.message}).`,
    );
  });
  if (bytes.length > LARGEST)
    throw new BadTranscript(`${file} is too large for a transcript. Check the name.`);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new BadTranscript(`${file} is not text in UTF-8. Save it so, and try again.`);
  }
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
      continued: { type: 'boolean' },
      ...RECORDING_OPTIONS,
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
