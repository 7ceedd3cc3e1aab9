import type { Context } from 'hono';
import { InstructorOnly, type InstructorsArea } from '../../people/instructorsArea.ts';
import { TraineeIdSchema } from '../../people/trainee.ts';
import { UnknownRehearsal } from '../../records/kept.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { INSTRUCTOR_HEADER, TRAINEE_HEADER } from '../api.ts';
import type { Env } from '../request.ts';

/** Who asks, by what the page sends with every request. */
export interface Viewer {
  /** Whether they may do what the instructor may: the instructor, and everybody while no passphrase is set. */
  readonly isInstructor: boolean;
  /** Id of the trainee that is chosen in the page; null for nobody. */
  readonly trainee: string | null;
}

/** Sound is asked for by an audio element as well, which sends no headers of ours: for it they stand in the query. */
const sent = (c: Context<Env>, name: string): string => c.req.header(name) ?? c.req.query(name) ?? '';

/** The token of the instructor's session; empty for none. */
export const tokenOf = (c: Context<Env>): string => sent(c, INSTRUCTOR_HEADER);

export async function viewerOf(c: Context<Env>, area: InstructorsArea): Promise<Viewer> {
  return {
    isInstructor: await area.isOpenTo(tokenOf(c)),
    trainee: TraineeIdSchema.safeParse(sent(c, TRAINEE_HEADER)).data ?? null,
  };
}

/** Whether rehearsals of a trainee, null for nobody, may be seen and deleted. */
export const maySee = ({ isInstructor, trainee }: Viewer, owner: string | null): boolean =>
  isInstructor || owner === null || owner === trainee;

/** @throws {UnknownRehearsal} there is none of that id that may be seen: which of both is not told */
export async function checkSeen(viewer: Viewer, rehearsals: Rehearsals, id: string): Promise<void> {
  // Where all may be seen, no header need be read.
  if (!viewer.isInstructor && !maySee(viewer, await rehearsals.traineeOf(id))) throw new UnknownRehearsal(id);
}

/** @throws {InstructorOnly} */
export function checkInstructor({ isInstructor }: Viewer): void {
  if (!isInstructor) throw new InstructorOnly();
}
