import { parseArgs } from 'node:util';
import { openLibrary, SHIPPED_SKILLS } from '../records/library.ts';
import { describeFault, FaultyFile } from '../rehearsal/faults.ts';
import type { ExitCode, Io } from './io.ts';

export const USAGE = `Usage: sinkside skills check [DIR]

Checks every skill file of a folder (by default the program's own) and says what is wrong, where and what to do.
`;

/** `sinkside skills …` */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  const { positionals } = parseArgs({ args, allowPositionals: true, options: {} });
  const [verb, folder = SHIPPED_SKILLS, ...rest] = positionals;
  if (verb !== 'check' || rest.length > 0) {
    io.err(USAGE);
    return 2;
  }
  try {
    const library = await openLibrary(folder);
    for (const fault of library.faults) io.err(`${describeFault(fault)}\n`);
    for (const { id, title, steps } of library.skills.values())
      io.out(`${id}: ${title}, ${steps.length} steps\n`);
    if (library.faults.length > 0) {
      io.err(`${library.faults.length} ${library.faults.length === 1 ? 'fault' : 'faults'} in ${folder}\n`);
      return 3;
    }
    io.out(`No faults in ${folder}\n`);
    return 0;
  } catch (error) {
    if (!(error instanceof FaultyFile)) throw error;
    io.err(`${error.message}\n`);
    return 3;
  }
}
