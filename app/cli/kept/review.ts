import { stat } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { dataFolder } from '../../disk/dataFolder.ts';
import { SkillFolder } from '../../library/skillFolder.ts';
import { assess } from '../../listening/assess.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import type { NewRehearsal } from '../../records/header.ts';
import { Rehearsals } from '../../records/rehearsals.ts';
import { vocabularyOf } from '../../skills/checklist.ts';
import { answering, UsageError } from '../recorded/answering.ts';
import { openChecklist } from '../recorded/assess.ts';
import { exportReviews } from './exportReviews.ts';
import { openRecording, RECORDING_OPTIONS } from '../recorded/recording.ts';
import type { ExitCode, Io } from '../io.ts';

export const USAGE = `Usage: sinkside review import FILE --skill ID [options]
       sinkside review export [ID…] [--data DIR]

"import" listens to a recording that was made elsewhere, as with a phone, and keeps it with its marks like a rehearsal in the room, so
that it can be reviewed there. The rehearsal room may be open meanwhile. "export" prints what people said of rehearsals, of all that were
reviewed where no ID is given, as one JSON document.

  FILE              WAV; with ffmpeg also M4A, MP3, FLAC, Ogg, WebM…; at most 2 hours
  --skill ID        the skill that was rehearsed ("sinkside skills check" lists them)
  --variant K=V     a variant of the skill, such as tap=pedal; may be given several times
  --skills DIR      a folder of skill files instead of the program's own
  --data DIR        the data folder, instead of the usual one or that which SINKSIDE_DATA names
  --engine ID       the listening engine: moonshine (the usual one), vosk, or both at once
  --model WHICH     a model's id, or a folder that holds its files

It is dated by when the file was last changed. Exit codes: 0 kept, 2 wrong usage, 3 bad input, 4 model missing or damaged.
`;

/** `sinkside review …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  if (args[0] === 'export') return exportReviews(args.slice(1), io);
  return answering(io, async () => {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: {
        skill: { type: 'string' },
        variant: { type: 'string', multiple: true },
        skills: { type: 'string' },
        data: { type: 'string' },
        engine: RECORDING_OPTIONS.engine,
        model: RECORDING_OPTIONS.model,
      },
    });
    const [what, file, ...rest] = positionals;
    const { skill, variant, data = dataFolder(), skills } = values;
    if (what !== 'import' || file === undefined || rest.length > 0 || skill === undefined)
      throw new UsageError(USAGE);

    const { library } = await SkillFolder.open(data, skills);
    const checklist = openChecklist(library, { skill, variant }, io);
    const { sound, engine, listening, close } = await openRecording(file, values, io);
    const samples: Int16Array[] = [];
    const events: RehearsalEvent[] = [];
    const { assessment } = await assess(keeping(sound.chunks, samples), {
      ...listening,
      checklist,
      engine,
      vocabulary: (open) => vocabularyOf(open, library.lexicon),
      onEvents: (some) => void events.push(...some),
    }).finally(close);
    for (const warning of [...sound.warnings, ...assessment.warnings]) io.err(`${warning}\n`);

    const end = (await stat(file)).mtimeMs;
    const { version } = checklist.skill;
    const startedAt = new Date(end - assessment.audioSeconds * 1000).toISOString();
    const begun = {
      skill,
      version,
      variants: checklist.variants,
      style: 'coach',
      engine,
      startedAt,
    } as const;
    const id = await keep(new Rehearsals(data, library), begun, events, samples);
    const { heard, of } = assessment.result;
    io.out(
      `Kept as ${id}: ${heard} of ${of} steps heard. To review it: npx sinkside room, then Instructor.\n`,
    );
    return 0;
  });
}

/** Hands sound on, and keeps it as 16-bit samples. */
async function* keeping(
  chunks: AsyncIterable<Float32Array>,
  kept: Int16Array[],
): AsyncGenerator<Float32Array> {
  for await (const chunk of chunks) {
    kept.push(Int16Array.from(chunk, (x) => Math.round(32_767 * Math.max(-1, Math.min(1, x)))));
    yield chunk;
  }
}

/** Keeps a rehearsal whole or not at all, and answers its id. */
async function keep(
  rehearsals: Rehearsals,
  begun: NewRehearsal,
  events: readonly RehearsalEvent[],
  samples: readonly Int16Array[],
): Promise<string> {
  const { id, writer } = await rehearsals.create(begun);
  try {
    await rehearsals.addEvents(id, 0, events, writer);
    let from = 0;
    for (const piece of samples) {
      await rehearsals.addSound(id, from, new Uint8Array(piece.buffer), writer);
      from += piece.length;
    }
    return id;
  } catch (error) {
    await rehearsals.delete(id, writer);
    throw error;
  }
}
