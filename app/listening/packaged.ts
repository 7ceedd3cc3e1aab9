import { fileURLToPath } from 'node:url';

/** Files of packages that engines are opened with, by their path on disk. */
export interface PackagedFiles {
  /** The speech detector. */
  readonly detector: string;
  /** Kaldi's build. */
  readonly kaldi: string;
}

/** The files as their packages hold them. */
export function packagedFiles(): PackagedFiles {
  return {
    detector: fileURLToPath(import.meta.resolve('@ricky0123/vad-web/dist/silero_vad_v5.onnx')),
    kaldi: fileURLToPath(import.meta.resolve('vosk-browser')),
  };
}
