import { readFile } from 'node:fs/promises';
import { packagedFiles } from '../../app/engines/packaged.ts';
import type { StreamingModel } from '../../app/streaming/streamingListener.ts';
import { loadModel } from '../../models/load.ts';

/** The id of the model that comes with the program for the engine Kaldi, trained on synthetic voices. */
export const SYNTHETIC = 'synthetic-en';

/** The model with what runs it. */
export async function syntheticModel(): Promise<StreamingModel> {
  const { files } = await loadModel('vosk', SYNTHETIC);
  return { files, runtime: await readFile(packagedFiles().kaldi) };
}
