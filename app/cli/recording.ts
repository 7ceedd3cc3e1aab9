import { performance } from 'node:perf_hooks';
import { readFile } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { SingleBar } from 'cli-progress';
import { loadModel, ModelCorrupt } from '../../models/load.ts';
import type { ListenOptions } from '../listening/assess.ts';
import { createListener } from '../listening/offlineListener.ts';
import { openSound, type Sound } from '../listening/soundFile.ts';
import { messageOf } from '../rehearsal/faults.ts';
import { minutes } from '../rehearsal/testClock.ts';
import { UsageError } from './answering.ts';
import type { Io } from './io.ts';

/** Engines that stand behind the listener seam. */
const ENGINES = ['moonshine'];

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
  const engine = values.engine ?? ENGINES[0]!;
  if (!ENGINES.includes(engine))
    throw new UsageError(`There is no engine "${engine}"; there is: ${ENGINES.join(', ')}`);
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
  return {
    sound,
    engine: `${engine}/${model.id}`,
    close: () => bar?.stop(),
    listening: {
      makeListener: (onEvent) =>
        createListener({ model, detector, onEvent }).catch((error: unknown) => {
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
