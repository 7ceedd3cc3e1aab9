/** Where a command's words go. Passed in, so that commands can be tested without a process. */
export interface Io {
  readonly out: (text: string) => void;
  readonly err: (text: string) => void;
  /** Whether standard error is a terminal that can draw a progress bar. */
  readonly isTerminal: boolean;
}

/** 0 done, 2 the command was used wrongly, 3 the input is bad, 4 a model is missing or damaged. */
export type ExitCode = 0 | 2 | 3 | 4;
