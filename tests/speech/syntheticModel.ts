import { readFile } from 'node:fs/promises';
import { packagedFiles } from '../../app/listening/packaged.ts';
import type { StreamingModel } from '../../app/listening/streamingListener.ts';
import { findModel } from '../../models/catalog.ts';
import { loadModel } from '../../models/load.ts';

/** The id of the model that comes with the program for the engine Kaldi, trained on synthetic voices. */
export const SYNTHETIC = 'synthetic-en';

/** Whether this version has that model. Without it nothing can be heard with Kaldi here. */
export const hasSynthetic = findModel(SYNTHETIC) !== undefined;

/** The model with what runs it. */
export async function syntheticModel(): Promise<StreamingModel> {
  const { files } = await loadModel('vosk', SYNTHETIC);
  return { files, runtime: await readFile(packagedFiles().kaldi) };
}
