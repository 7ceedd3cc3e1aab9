import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import type { JudgeFiles } from '../meaning/judge.ts';
import { RUNS_ON } from '../settings/choice.ts';
import type { EngineModel } from './engines.ts';

/** Files of packages that engines are opened with, by their path on disk. */
export interface PackagedFiles {
  /** The speech detector. */
  readonly detector: string;
  /** Kaldi's build. */
  readonly kaldi: string;
  /** The learned judge, which is our own: its network and its tokenizer. */
  readonly judge: string;
  readonly judgeTokenizer: string;
}

/** The files as their packages hold them. */
export function packagedFiles(): PackagedFiles {
  return {
    detector: fileURLToPath(import.meta.resolve('@ricky0123/vad-web/dist/silero_vad_v5.onnx')),
    kaldi: fileURLToPath(import.meta.resolve('vosk-browser')),
    judge: fileURLToPath(new URL('../../models/judge/judge.onnx', import.meta.url)),
    judgeTokenizer: fileURLToPath(new URL('../../models/judge/judge.tokenizer.json', import.meta.url)),
  };
}

/** A model with the file of a package that its engine needs beside it, if any. @throws {Error} it is not there */
export async function runnable(
  { engine, files }: EngineModel,
  packaged: PackagedFiles,
): Promise<EngineModel> {
  const runsOn = RUNS_ON[engine];
  if (!runsOn) return { engine, files };
  const [part, name] = runsOn;
  return { engine, files: new Map([...files, [name, await readFile(packaged[part])]]) };
}

/** The learned judge's files, read. @throws {Error} they are not there */
export async function readJudge({
  judge,
  judgeTokenizer,
}: Pick<PackagedFiles, 'judge' | 'judgeTokenizer'>): Promise<JudgeFiles> {
  const [network, tokenizer] = await Promise.all([readFile(judge), readFile(judgeTokenizer)]);
  return { network, tokenizer };
}
