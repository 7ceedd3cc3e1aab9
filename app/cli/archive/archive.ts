import type { ExitCode, Io } from '../io.ts';
import { PLACE_USAGE } from './place.ts';

export const USAGE = `Usage: sinkside archive COMMAND …

The school's archive, which gathers what stations send.

  serve [--host H] [--port N] [--cert FILE --key FILE | --behind-proxy]
                              serves it, by default to this machine alone
  account add --school NAME --name NAME [--role school|instructor] [--class NAME …]
                              makes an account and prints its token, once
  status [--json]             versions, what waits, how full it is, backups
  backup [FOLDER]             copies all of it into FOLDER, beside the backups that are there
  restore BACKUP              puts a backup into an archive that is empty
  move --database URL         moves the archive from its folder into a PostgreSQL server's empty database
  remark --skill ID [--version N] | --all [--watch]
                              asks that all attempts of a skill, or of all the program's skills, be marked again under its newest
                              version, or under N; asked for twice, nothing is marked twice. --watch, alone too, tells how far it is
  work [--until-empty]        marks what "remark" asked for. With --database any number of machines may do so at once; what a killed
                              one had taken goes to another a minute later. Ctrl+C ends it

${PLACE_USAGE}
Exit codes: 0 done, 2 wrong usage, 3 it could not be done; the message says what to do.
`;

type Run = (args: string[], io: Io) => Promise<ExitCode>;

/** Loaded when called for. */
const COMMANDS: Readonly<Record<string, () => Promise<{ run: Run }>>> = {
  serve: () => import('./serve.ts'),
  account: () => import('./account.ts'),
  status: () => import('./status.ts'),
  backup: () => import('./backup.ts'),
  restore: () => import('./restore.ts'),
  move: () => import('./move.ts'),
  work: () => import('./work.ts'),
  remark: () => import('./remark.ts'),
};

/** `sinkside archive …` */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  const [name = '', ...rest] = args;
  const load = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (load) return (await load()).run(rest, io);
  io.err(USAGE);
  return 2;
}
