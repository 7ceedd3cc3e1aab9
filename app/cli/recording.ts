import { performance } from 'node:perf_hooks';
import { readFile } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { SingleBar } from 'cli-progress';
import { ENGINES } from '../../models/catalog.ts';
import { loadModel, ModelCorrupt } from '../../models/load.ts';
import type { ListenOptions } from '../listening/assess.ts';
import { openEngine, type EngineModel } from '../listening/engines.ts';
import { packagedFiles } from '../listening/packaged.ts';
import { openSound, type Sound } from '../listening/soundFile.ts';
import { messageOf } from '../rehearsal/faults.ts';
import { minutes } from '../rehearsal/testClock.ts';
import { UsageError } from './answering.ts';
import type { Io } from './io.ts';

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
  const engine = ENGINES.find((known) => known === (values.engine ?? ENGINES[0]));
  if (engine === undefined)
    throw new UsageError(`There is no engine "${values.engine}"; there is: ${ENGINES.join(', ')}`);
  const sound = await openSound(file);
  const model = await loadModel(engine, values.model);
  for (const warning of model.warnings) io.err(`${warning}\n`);
  const packaged = packagedFiles();
  const detector = await readFile(packaged.detector);
  const opened: EngineModel =
    model.engine === 'vosk' ? { ...model, runtime: await readFile(packaged.kaldi) } : model;
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
    engine: `${engine}/${model.id}`,
    close: () => bar?.stop(),
    listening: {
      makeListener: (onEvent) =>
        openEngine({ model: opened, detector, onEvent }).catch((error: unknown) => {
          throw new ModelCorrupt(
            `The speech model ${model.id} cannot be opened: ${messageOf(error)}. Run: npx sinkside models verify`,
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
