import { fileURLToPath } from 'node:url';
import { DEFAULT_MODEL } from '../../models/catalog.ts';
import { run as assess } from './assess.ts';
import type { ExitCode, Io } from './io.ts';
import { run as models } from './models.ts';

export const USAGE = `Usage: sinkside demo [--live] [--json]

Gets the speech model where it is missing, then marks the recorded demo narration of a hand wash.
`;

const RECORDING = fileURLToPath(new URL('../../skills/demo/hand-washing.wav', import.meta.url));

/** `sinkside demo`: the main job from nothing to a marked result. */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  // With --json only the document may go to standard output.
  const got = await models(['get', DEFAULT_MODEL], { ...io, out: io.err });
  if (got !== 0) return got;
  return assess([RECORDING, '--skill', 'hand-washing', ...args], io);
}
