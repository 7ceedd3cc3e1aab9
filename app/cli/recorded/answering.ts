import { ModelCorrupt, ModelMissing } from '../../../models/load.ts';
import { BadSound } from '../../sound/badSound.ts';
import { UnknownVariant } from '../../skills/checklist.ts';
import { CannotDraw } from '../../skills/draw.ts';
import { FaultyFile } from '../../faults/faults.ts';
import { BadTranscript } from '../../listening/transcript.ts';
import type { ExitCode, Io } from '../io.ts';

/** The user asked for something there is not, or in a way that is not understood. */
export class UsageError extends Error {}

/** Runs a command, and answers the user's own errors with one message and the exit code it has. */
export async function answering(io: Io, work: () => Promise<ExitCode>): Promise<ExitCode> {
  try {
    return await work();
  } catch (error) {
    const say = (text: string, code: ExitCode): ExitCode => {
      io.err(`${text}\n`);
      return code;
    };
    if (error instanceof UsageError || error instanceof UnknownVariant) return say(error.message, 2);
    const bad = [BadSound, BadTranscript, FaultyFile, CannotDraw];
    if (bad.some((kind) => error instanceof kind)) return say((error as Error).message, 3);
    if (error instanceof ModelMissing || error instanceof ModelCorrupt) return say(error.message, 4);
    throw error;
  }
}
