import { performance } from 'node:perf_hooks';
import { readFile } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { SingleBar } from 'cli-progress';
import { loadModel, ModelCorrupt } from '../../../models/load.ts';
import type { ListenOptions } from '../../listening/assess.ts';
import { openEngines } from '../../engines/engines.ts';
import { packagedFiles, readJudge, runnable } from '../../engines/packaged.ts';
import { openSound, type Sound } from '../../sound/soundFile.ts';
import { enginesOf, LISTENING } from '../../settings/choice.ts';
import { messageOf } from '../../faults/faults.ts';
import { minutes } from '../../marking/testClock.ts';
import { UsageError } from './answering.ts';
import type { Io } from '../io.ts';

/** Options of every command that marks a recording. */
export const RECORDING_OPTIONS = {
  engine: { type: 'string' },
  model: { type: 'string' },
  json: { type: 'boolean' },
  live: { type: 'boolean' },
} as const;

interface Values {
  readonly engine?: string | undefined;
  readonly model?: string | undefined;
  readonly json?: boolean | undefined;
  readonly live?: boolean | undefined;
}

/** A recording ready to be listened to. */
export interface Recording {
  readonly sound: Sound;
  /** Engine and model, for documents. */
  readonly engine: string;
  readonly listening: Pick<ListenOptions, 'makeListener' | 'clock' | 'onProgress' | 'pace'>;
  /** Takes the progress bar away. */
  close(): void;
}

/**
 * Opens a recording and a model to listen with.
 *
 * @throws {UsageError | BadSound | ModelMissing | ModelCorrupt}
 */
export async function openRecording(file: string, values: Values, io: Io): Promise<Recording> {
  const engine = LISTENING.find((known) => known === (values.engine ?? LISTENING[0]));
  if (engine === undefined)
    throw new UsageError(`There is no engine "${values.engine}"; there is: ${LISTENING.join(', ')}`);
  if (engine === 'both' && values.model !== undefined)
    throw new UsageError('With --engine both each engine listens with its usual model: leave --model out.');
  const sound = await openSound(file);
  const models = await Promise.all(enginesOf(engine).map((each) => loadModel(each, values.model)));
  for (const warning of models.flatMap((model) => model.warnings)) io.err(`${warning}\n`);
  const packaged = packagedFiles();
  const [detector, judge] = await Promise.all([readFile(packaged.detector), readJudge(packaged)]);
  const opened = await Promise.all(models.map((model) => runnable(model, packaged)));
  const names = models.map(({ id }) => id).join('+');
  const bar =
    io.isTerminal && !values.live && !values.json
      ? new SingleBar({ format: 'Listening {bar} {percentage} % {at} of {of}', stream: process.stderr })
      : null;
  bar?.start(sound.seconds ?? 0, 0, {
    at: '0:00',
    of: sound.seconds === null ? '?' : minutes(sound.seconds),
  });
  const began = performance.now();
  return {
    sound,
    engine: `${engine}/${names}`,
    close: () => bar?.stop(),
    listening: {
      makeListener: (onEvent) =>
        openEngines(opened, { detector, judge, onEvent }).catch((error: unknown) => {
          throw new ModelCorrupt(
            `The speech model ${names} cannot be opened: ${messageOf(error)}. Run: npx sinkside models verify`,
          );
        }),
      clock: () => performance.now() / 1000,
      onProgress: (seconds) => bar?.update(seconds, { at: minutes(seconds) }),
      ...(values.live && {
        pace: (seconds: number) => sleep(Math.max(0, began + seconds * 1000 - performance.now())),
      }),
    },
  };
}
