import { parseArgs } from 'node:util';
import { assessTest } from '../../listening/assess.ts';
import { loudnessWithin, voiceOverNoise } from '../../loudness/voiceOverNoise.ts';
import { openLibrary } from '../../library/library.ts';
import { vocabularyOf } from '../../skills/checklist.ts';
import { COMMAND_PHRASES } from '../../language/commands.ts';
import { markTest } from '../../run/mockTest.ts';
import { toTestDocument } from './testDocument.ts';
import { planFrom, TEST_OPTIONS } from '../draw.ts';
import { answering, UsageError } from './answering.ts';
import type { ExitCode, Io } from '../io.ts';
import { openRecording, RECORDING_OPTIONS } from './recording.ts';
import { describeEvents, describeTest } from './report.ts';

export const USAGE = `Usage: sinkside mock SOUND (--form ID --seed N | --pick ID,ID,…) [options]

Listens to the recording of a whole mock test and marks every skill. "Next skill" said in it closes one and opens the next.

  SOUND                  as for "sinkside assess"
  --form ID, --seed N    the skills as "sinkside draw" draws them
  --pick ID,ID,…         the skills, in the order they are done
  --rules ID             other rules than the form's
  --evaluator STEP=N     the evaluator's own number for a reading, as SKILL.STEP=N; may be given several times
  --skills DIR           a folder of skill files instead of the program's own
  --engine ID, --model WHICH, --json, --live   as for "sinkside assess" (app/cli/recorded/mock.schema.json)

Exit codes: 0 marked, 2 wrong usage, 3 bad input, 4 model missing or damaged.
`;

/** `sinkside mock …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, async () => {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { ...TEST_OPTIONS, ...RECORDING_OPTIONS, evaluator: { type: 'string', multiple: true } },
    });
    const [file, ...rest] = positionals;
    if (file === undefined || rest.length > 0) throw new UsageError(USAGE);
    if (values.pick === undefined && values.seed === undefined)
      throw new UsageError(`Which skills? Give --form and --seed, or --pick.\n\n${USAGE}`);
    const evaluator = numbersOf(values.evaluator ?? []);
    const library = await openLibrary(values.skills);
    const plan = await planFrom(library, values);
    const { sound, engine, listening, close } = await openRecording(file, values, io);
    let opened = 0;
    const { test, heard } = await assessTest(sound.chunks, {
      ...listening,
      plan,
      vocabulary: (checklist) => [...vocabularyOf(checklist, library.lexicon), ...COMMAND_PHRASES],
      onEvents: (events) => {
        if (!values.live || values.json) return;
        for (const event of events) {
          if (event.type === 'began') opened++;
          const open = plan.checklists[Math.max(0, opened - 1)]!; // each skill begins once
          if (event.type === 'began') io.out(`\n${open.skill.title}\n`);
          for (const line of describeEvents([event], open)) io.out(`${line}\n`);
        }
      },
    }).finally(close);
    const { loudness, ...about } = heard;
    const document = toTestDocument(
      plan,
      markTest(plan.checklists, plan.rules, test, evaluator),
      { ...about, engine, warnings: [...sound.warnings, ...heard.warnings] },
      ({ steps, from, to }) => {
        if (from === null) return null;
        const span = { from, to: to ?? heard.audioSeconds };
        return voiceOverNoise(loudnessWithin(loudness, span), steps, span, engine);
      },
    );
    io.out(values.json ? `${JSON.stringify(document, null, 2)}\n` : describeTest(document));
    return 0;
  });
}

/** SKILL.STEP=N as numbers by skill and step. */
function numbersOf(pairs: readonly string[]): Record<string, Record<string, number>> {
  const numbers: Record<string, Record<string, number>> = {};
  for (const pair of pairs) {
    const [, skill, step, value] = /^([a-z0-9-]+)\.([a-z0-9-]+)=(-?\d+(?:\.\d+)?)$/.exec(pair) ?? [];
    if (skill === undefined || step === undefined)
      throw new UsageError(`--evaluator takes SKILL.STEP=NUMBER, not "${pair}"`);
    numbers[skill] = { ...numbers[skill], [step]: Number(value) };
  }
  return numbers;
}
