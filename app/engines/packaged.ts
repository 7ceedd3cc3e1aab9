import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import type { JudgeFiles } from '../meaning/judge.ts';

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

/** The learned judge's files, read. @throws {Error} they are not there */
export async function readJudge({
  judge,
  judgeTokenizer,
}: Pick<PackagedFiles, 'judge' | 'judgeTokenizer'>): Promise<JudgeFiles> {
  const [network, tokenizer] = await Promise.all([readFile(judge), readFile(judgeTokenizer)]);
  return { network, tokenizer };
}
