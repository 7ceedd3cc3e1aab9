import type { ExitCode, Io } from './io.ts';

const USAGE = `Usage: sinkside COMMAND …

  assess FILE --skill ID    mark a recorded narration, or a transcript, against a skill's checklist
  draw [--form ID]          draw the skills of a mock test
  mock SOUND --form ID --seed N   mark the recording of a whole mock test
  records list|show|export|import|delete|rebuild   the rehearsals that are kept here
  review import FILE --skill ID   keep a recording made elsewhere, to be reviewed
  review export [ID…]       what people said of the rehearsals, as JSON
  agreement DATA_FOLDER     how far the marks agree with those of the people who reviewed them
  skills check|lint|test [DIR]   check skill files, and the narrations beside them
  models list|get|verify|remove   the speech models on this machine
  demo                      get the model, then mark a recorded demo narration
  station enrol|send|status|leave   send rehearsals to the school's archive
  archive status|backup|restore|move   look after the school's archive
  room                      open the rehearsal room in your browser
  start                     open it in Electron where that can be had (what "npm start" does)
  build                     build the screens and the Electron shell

"sinkside COMMAND --help" tells more. All work is done on this machine; only getting a model or Electron,
and an archive that the school has set, use the network.

Exit codes: 0 done, 2 wrong usage, 3 bad input, 4 a model is missing or damaged.
`;

interface Command {
  readonly USAGE: string;
  run(args: string[], io: Io): Promise<ExitCode>;
}

/** Loaded when called for: the recogniser alone takes longer to load than "models list" to run. */
const COMMANDS: Readonly<Record<string, () => Promise<Command>>> = {
  assess: () => import('./recorded/assess.ts'),
  draw: () => import('./draw.ts'),
  mock: () => import('./recorded/mock.ts'),
  skills: () => import('./skills.ts'),
  records: () => import('./kept/records.ts'),
  review: () => import('./kept/review.ts'),
  agreement: () => import('./kept/agreement.ts'),
  models: () => import('./models.ts'),
  demo: () => import('./recorded/demo.ts'),
  station: () => import('./archive/station.ts'),
  archive: () => import('./archive/archive.ts'),
  room: () => import('./room.ts'),
  start: () => import('./start.ts'),
  build: () => import('./build.ts'),
};

/** Runs the command that `args` name. Errors other than the user's come through. */
export async function main(args: readonly string[], io: Io): Promise<ExitCode> {
  const [name = '', ...rest] = args;
  if (name === '--help' || name === '-h' || name === 'help') {
    io.out(USAGE);
    return 0;
  }
  const load = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (load === undefined) {
    io.err(name === '' ? USAGE : `There is no command "${name}".\n\n${USAGE}`);
    return 2;
  }
  const command = await load();
  if (rest.includes('--help') || rest.includes('-h')) {
    io.out(command.USAGE);
    return 0;
  }
  try {
    return await command.run(rest, io);
  } catch (error) {
    if (!isArgumentError(error)) throw error;
    io.err(`${error.message}\n\n${command.USAGE}`);
    return 2;
  }
}

/** What node:util's parseArgs throws: an unknown option, one without its value… */
function isArgumentError(error: unknown): error is Error {
  return (
    error instanceof TypeError && String((error as NodeJS.ErrnoException).code).startsWith('ERR_PARSE_ARGS_')
  );
}
