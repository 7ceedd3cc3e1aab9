import type { ContentfulStatusCode } from 'hono/utils/http-status';
import { BundleRefused } from '../bundle/refused.ts';
import { ChangedMeanwhile } from '../bundle/write.ts';
import { ChangedHere } from '../carrying/takeIn.ts';
import { Gap, NotKept, OtherContent } from '../disk/notKept.ts';
import { isFull } from '../disk/wholeFile.ts';
import { FaultyFile, messageOf } from '../faults/faults.ts';
import { UnknownSkill } from '../library/skillFolder.ts';
import { InstructorOnly, TooSoon, WrongPassphrase } from '../people/instructorsArea.ts';
import { UnknownTrainee } from '../people/peopleFile.ts';
import { UnknownRehearsal } from '../records/kept.ts';
import { DamagedSound } from '../records/packing/flac.ts';
import { SoundNotWanted } from '../records/rehearsals.ts';
import { OtherWriter } from '../records/writer.ts';
import { UnknownVariant } from '../skills/checklist.ts';
import type { Problem } from './api.ts';

/** A request that is not answered as asked. */
export class Refused extends Error {
  override readonly name = 'Refused';
  /** @param status HTTP status code (RFC 9110) */
  constructor(
    readonly status: ContentfulStatusCode,
    readonly problem: Problem,
  ) {
    super(problem.error);
  }
}

/** What is answered when something fails. */
export function refusalOf(error: unknown, where: string): Pick<Refused, 'status' | 'problem'> {
  if (error instanceof Refused) return error;
  const message = messageOf(error);
  const problem = (status: ContentfulStatusCode, advice: string, more: Partial<Problem> = {}) => ({
    status,
    problem: { error: message, where, advice, ...more },
  });
  if (error instanceof UnknownRehearsal) return problem(404, 'GET /api/rehearsals lists what there is.');
  if (error instanceof UnknownTrainee) return problem(404, 'Choose one of those that GET /api/people lists.');
  if (error instanceof InstructorOnly) return problem(403, 'Enter the instructor’s area first.');
  if (error instanceof WrongPassphrase) return problem(403, 'Wait a moment, then try again.');
  if (error instanceof TooSoon) return problem(429, 'Wait, then try again.');
  if (error instanceof SoundNotWanted) return problem(403, 'Send its events alone.');
  if (error instanceof UnknownSkill) return problem(404, 'GET /api/skills lists what there is.');
  if (error instanceof FaultyFile)
    return problem(422, 'Put the faults right; nothing was written.', { faults: [...error.faults] });
  if (error instanceof DamagedSound)
    return problem(
      422,
      'All else of the rehearsal is there. Put the file back from a copy, if there is one.',
    );
  if (error instanceof BundleRefused) return problem(422, 'Nothing was taken in.');
  if (error instanceof ChangedMeanwhile || error instanceof ChangedHere) return problem(409, 'Try again.');
  if (error instanceof UnknownVariant) return problem(400, 'GET /api/library lists what there is.');
  const count = (kept: number): Partial<Problem> => (where.includes('/sound') ? { samples: kept } : { kept });
  if (error instanceof Gap) return problem(409, `Send from ${error.kept} on.`, count(error.kept));
  if (error instanceof OtherWriter) return problem(409, OTHER_WRITER, { conflict: true });
  if (error instanceof OtherContent)
    return problem(409, OTHER_CONTENT, { conflict: true, ...count(error.kept) });
  const makeRoom = 'Make room on the disk; nothing sent before is lost. Then send the rest again.';
  if (error instanceof NotKept) {
    const advice = error.full ? makeRoom : 'Check the disk. Then send the rest again.';
    return problem(error.full ? 507 : 500, advice, count(error.kept));
  }
  if (isFull(error)) return problem(507, makeRoom, { error: 'The disk is full.' });
  if (['EACCES', 'EPERM', 'EROFS', 'ENOTDIR'].includes(String((error as NodeJS.ErrnoException).code)))
    return problem(500, 'Let this user write there, or set SINKSIDE_DATA to another folder and start again.');
  return problem(500, 'Try again; if it stays so, tell who looks after this machine.');
}

const OTHER_WRITER =
  'End it there first. To go on with it here, take it over; to keep what this window holds, copy what was kept of it.';
const OTHER_CONTENT = 'Nothing was changed. Copy what was kept before, and send the rest to the copy.';
