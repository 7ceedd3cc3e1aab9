import { parseArgs } from 'node:util';
import { Carrier } from '../../carrying/carrier.ts';
import { dataFolder } from '../../disk/dataFolder.ts';
import { FolderHeld } from '../../disk/folderLock.ts';
import { alone } from '../../host/alone.ts';
import { SkillFolder } from '../../library/skillFolder.ts';
import { PeopleFile } from '../../people/peopleFile.ts';
import { Rehearsals } from '../../records/rehearsals.ts';
import { ArchiveAway, ArchiveRefused, KeyRefused } from '../../sending/archiveClient.ts';
import { BadAddress } from '../../sending/enrolment.ts';
import { REAL_EFFECTS, Sender } from '../../sending/sender.ts';
import type { SendingStanding } from '../../sending/standing.ts';
import { stationIn } from '../../sending/stationIn.ts';
import { answering, UsageError } from '../recorded/answering.ts';
import type { ExitCode, Io } from '../io.ts';

export const USAGE = `Usage: sinkside station enrol ADDRESS CODE
       sinkside station send [--again]
       sinkside station status [--json]
       sinkside station leave

Sends this machine's rehearsals to the school's archive. The school gives the address and a code, which works once.
Only rehearsals of trainees who agreed are sent. While the rehearsal room is open it sends by itself, and all but the
status is for its Settings.

  --again   also what the archive has refused, or after this station's key was refused

Exit codes: 0 done, 2 wrong usage, 3 the archive cannot be reached or has refused.
`;

type Verb = (sender: Sender, io: Io, args: readonly string[], options: Options) => Promise<ExitCode>;
interface Options {
  readonly json: boolean;
  readonly again: boolean;
}

const VERBS: Readonly<Record<string, { readonly takes: number; readonly run: Verb }>> = {
  enrol: {
    takes: 2,
    run: async (sender, io, [address = '', code = '']) => {
      await sender.enrol(address, code);
      return tell(sender, io, false);
    },
  },
  send: {
    takes: 0,
    run: async (sender, io, _, { again }) => {
      const round = await sender.sendNow({ again });
      if (round) io.out(`Sent ${round.sent}.\n`);
      return tell(sender, io, false);
    },
  },
  status: { takes: 0, run: (sender, io, _, { json }) => tell(sender, io, json) },
  leave: {
    takes: 0,
    run: async (sender, io) => {
      await sender.leave();
      io.out('This station sends nothing any more. What the archive has stays there.\n');
      return 0;
    },
  },
};

/** `sinkside station …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, async () => {
    const { positionals, values } = parseArgs({
      args,
      allowPositionals: true,
      options: { json: { type: 'boolean', default: false }, again: { type: 'boolean', default: false } },
    });
    const [name = '', ...rest] = positionals;
    const verb = Object.hasOwn(VERBS, name) ? VERBS[name] : undefined;
    if (verb?.takes !== rest.length) throw new UsageError(USAGE);
    const data = dataFolder();
    const sender = await senderOf(data, io);
    const work = (): Promise<ExitCode> => verb.run(sender, io, rest, values);
    try {
      return await (name === 'status' ? work() : alone(data, work));
    } catch (error) {
      if (error instanceof BadAddress) throw new UsageError(error.message);
      if (error instanceof FolderHeld)
        throw new UsageError(
          `The rehearsal room is open and sends by itself: use its Settings. ${error.message}`,
        );
      if (![ArchiveAway, ArchiveRefused, KeyRefused].some((kind) => error instanceof kind)) throw error;
      io.err(`${(error as Error).message}\n`);
      return 3;
    }
  });
}

async function senderOf(data: string, io: Io): Promise<Sender> {
  const warn = (message: string): void => io.err(`${message}\n`);
  const skills = await SkillFolder.open(data);
  const rehearsals = new Rehearsals(data, skills.library, warn);
  const people = new PeopleFile(data);
  const carrier = new Carrier({ rehearsals, people, skills });
  return new Sender(data, stationIn(data, rehearsals, people, carrier), { ...REAL_EFFECTS, warn });
}

async function tell(sender: Sender, io: Io, json: boolean): Promise<ExitCode> {
  const standing = await sender.standing();
  if (json) io.out(`${JSON.stringify(standing, null, 2)}\n`);
  else io.out(standing ? describe(standing) : 'This station sends to no archive.\n');
  return 0;
}

function describe(standing: SendingStanding): string {
  const { address, school, station, isOn, revoked, waiting, staying, sent, lastSentAt, refused } = standing;
  return [
    `Archive    ${school}, ${address}; this station is "${station}"${isOn ? '' : '; sending is turned off'}`,
    ...(revoked === null ? [] : [`Refused    the archive does not take this station's key: ${revoked}`]),
    `Sent       ${sent}, last ${lastSentAt ?? 'never'}`,
    `Waiting    ${waiting}`,
    `Staying    ${staying}: of trainees who did not agree, or of nobody in particular`,
    ...refused.map(({ record, at, why }) => `Refused    ${record}, ${at}: ${why}`),
    '',
  ].join('\n');
}
