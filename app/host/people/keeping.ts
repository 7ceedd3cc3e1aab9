import { messageOf } from '../../faults/faults.ts';
import type { BenchReadings } from '../../people/benchReadings.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';

/** A day in ms. */
const DAY = 24 * 3_600_000;

/**
 * Deletes the rehearsals and the bench's readings that are older than the school keeps them, and rehearsals older than the school they come
 * from does; notes how many rehearsals, to be told.
 *
 * @param now ms since 1970
 */
export async function deleteOld(
  people: PeopleFile,
  rehearsals: Rehearsals,
  bench: BenchReadings,
  now: number,
): Promise<void> {
  const { keptDays, trainees } = await people.read();
  if (keptDays !== null) for (const { id } of trainees) await bench.deleteBefore(id, now - keptDays * DAY);
  const old = keptDays === null ? 0 : await rehearsals.deleteBegunBefore(now - keptDays * DAY, now);
  const count = old + (await rehearsals.deleteOver(now));
  if (count > 0) await people.noteDeleted(count, now);
}

/** Does so now and once a day, until the function it gives is called. `warn` hears what went wrong. */
export async function deleteOldDaily(
  people: PeopleFile,
  rehearsals: Rehearsals,
  bench: BenchReadings,
  warn: (message: string) => void,
): Promise<() => void> {
  const work = (): Promise<void> =>
    deleteOld(people, rehearsals, bench, Date.now()).catch((error: unknown) => warn(messageOf(error)));
  await work();
  const timer = setInterval(() => void work(), DAY);
  timer.unref();
  return () => clearInterval(timer);
}
