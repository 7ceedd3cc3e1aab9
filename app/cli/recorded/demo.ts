import { DEFAULT_MODEL } from '../../../models/catalog.ts';
import { DEMO } from '../../host/demo.ts';
import { run as assess } from './assess.ts';
import type { ExitCode, Io } from '../io.ts';
import { run as models } from '../models.ts';

export const USAGE = `Usage: sinkside demo [--live] [--json]

Gets the speech model where it is missing, then marks the recorded demo narration of a hand wash.
`;

/** `sinkside demo`: the main job from nothing to a marked result. */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  // With --json only the document may go to standard output.
  const got = await models(['get', DEFAULT_MODEL], { ...io, out: io.err });
  if (got !== 0) return got;
  return assess([DEMO.recording, '--skill', DEMO.skill, ...args], io);
}
