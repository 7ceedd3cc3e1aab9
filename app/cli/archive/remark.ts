import { setTimeout } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import program from '../../../package.json' with { type: 'json' };
import type { Archive } from '../../archive/store/connection.ts';
import { progressLine, progressOf } from '../../archive/work/progress.ts';
import { putMarking } from '../../archive/work/putting.ts';
import { Queue } from '../../archive/work/queue.ts';
import { openLibrary, type Library } from '../../library/library.ts';
import { Marker } from '../../records/marker.ts';
import type { ExitCode, Io } from '../io.ts';
import { UsageError } from '../recorded/answering.ts';
import { keeping } from './keeping.ts';
import { PLACE_OPTIONS, placeOf, withArchive } from './place.ts';

/** Milliseconds between two lines of --watch. */
const TOLD_EVERY = 5_000;

/** `sinkside archive remark …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values } = parseArgs({
      args,
      options: {
        ...PLACE_OPTIONS,
        skill: { type: 'string' },
        version: { type: 'string' },
        all: { type: 'boolean' },
        watch: { type: 'boolean' },
      },
    });
    const { skill, all = false, watch = false } = values;
    if ((skill !== undefined && all) || (skill === undefined && !all && !watch) || (values.version && !skill))
      throw new UsageError('Say what: sinkside archive remark --skill ID [--version N], --all, or --watch.');
    const library = await openLibrary();
    const asked = [...(skill === undefined ? [] : [skill]), ...(all ? library.skills.keys() : [])];
    const warn = (message: string): void => io.err(`${message}\n`);
    await withArchive(placeOf(values), warn, async (archive) => {
      const queue = await Queue.open(archive, false, warn);
      try {
        for (const id of asked)
          await put(archive, queue, library, id, versionOf(library, id, values.version), io);
        if (watch) await tellProgress(archive, io);
      } finally {
        await queue.close();
      }
    });
  });
}

function versionOf(library: Library, skill: string, said: string | undefined): number {
  const version = said === undefined ? library.skills.get(skill)?.version : Number(said);
  if (version !== undefined && Number.isInteger(version) && version > 0) return version;
  throw new UsageError(
    said === undefined
      ? `The program has no skill "${skill}". For a school's own, name the version: --version N.`
      : `"${said}" is no version; give a whole number.`,
  );
}

async function put(archive: Archive, queue: Queue, library: Library, skill: string, version: number, io: Io) {
  // Any program with the same version and the same text of the skill marks alike.
  const markedBy = `${program.version} ${new Marker(library).basisOf(skill, version, false)}`;
  const { attempts } = await putMarking(archive, queue, { skill, version, markedBy });
  io.out(
    attempts === 0
      ? `${skill}, version ${version}: nothing new to mark.\n`
      : `${skill}, version ${version}: ${attempts} attempts are in the queue. "sinkside archive work" marks them.\n`,
  );
}

/** Tells how far the markings are until all are done. */
async function tellProgress(archive: Archive, io: Io): Promise<void> {
  for (;;) {
    const markings = await progressOf(archive);
    const going = markings.filter(({ done, of }) => done < of);
    for (const marking of going.length > 0 ? going : markings.slice(0, 1))
      io.out(`${progressLine(marking)}\n`);
    if (going.length === 0) return;
    await setTimeout(TOLD_EVERY);
  }
}
