import { shelfOf, type Library } from '../../library/library.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Kept } from '../../records/kept.ts';
import { drawnIn } from '../../records/marker.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { attemptReport, type AttemptReport } from '../../report/attemptReport.ts';
import { planOf, versionRemarks } from '../../run/testPlan.ts';
import { UnknownVariant } from '../../skills/checklist.ts';
import { CannotDraw } from '../../skills/draw.ts';
import { inLocalTime } from '../localTime.ts';
import type { Viewer } from '../people/viewer.ts';
import { Refused } from '../refused.ts';
import { judgedIn, seenOf } from '../routes/judged.ts';

/** Where reports are read from. */
export interface Sources {
  readonly rehearsals: Rehearsals;
  readonly library: Library;
  readonly people: PeopleFile;
}

/** The report of a rehearsal, as its viewer may see it. Throws {@link UnknownRehearsal}, and {@link Refused} where it cannot be marked. */
export async function readAttemptReport(
  id: string,
  viewer: Viewer,
  sources: Sources,
): Promise<AttemptReport> {
  const { rehearsals, library, people } = sources;
  const kept = seenOf(await rehearsals.read(id), viewer);
  const summary = (await rehearsals.list()).find((each) => each.id === id);
  const { header } = kept;
  const { trainees } = await people.read();
  const trainee = trainees.find((each) => each.id === header.trainee);
  const judgedSkills = markable(id, () => judgedIn(kept, library));
  const about = {
    id,
    trainee: trainee ? { name: trainee.name, class: trainee.class } : lostTrainee(header.trainee ?? null),
    startedAt: header.startedAt,
    seconds: summary?.seconds ?? 0,
    engine: header.engine,
    test: header.form === undefined ? null : (summary?.title ?? 'Mock test'),
    notes: [...(summary?.note ? summary.note.split('\n') : []), ...versionsToldOf(kept, library)],
  };
  const skills = judgedSkills.map((judged) => {
    const { only } = header;
    const { checklist } = judged;
    const steps = only ? checklist.steps.filter((step) => only.includes(step.id)) : checklist.steps;
    return { ...judged, checklist: { ...checklist, steps }, whole: !only };
  });
  return attemptReport(about, skills, inLocalTime);
}

/** What is told of a trainee who is no longer listed. */
const lostTrainee = (id: string | null): AttemptReport['trainee'] =>
  id === null ? null : { name: 'Somebody no longer listed', class: '' };

/** What there is to say of a test whose skills are others now. */
function versionsToldOf({ events }: Kept, library: Library): string[] {
  const drawn = drawnIn(events);
  return drawn ? versionRemarks(planOf(shelfOf(library), drawn), drawn) : [];
}

/** @throws {Refused} its skill or rules are gone */
function markable<T>(id: string, mark: () => T): T {
  try {
    return mark();
  } catch (error) {
    if (!isGone(error)) throw error;
    throw new Refused(422, {
      error: `It cannot be marked: ${error.message}`,
      where: id,
      advice: 'Put the skill back that it was rehearsed with, then ask again.',
    });
  }
}

/** Whether a skill or rules are no longer there. */
export const isGone = (error: unknown): error is Error =>
  error instanceof UnknownVariant || error instanceof CannotDraw;
