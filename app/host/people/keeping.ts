import { messageOf } from '../../faults/faults.ts';
import type { PeopleFile } from '../../people/peopleFile.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';

/** A day in ms. */
const DAY = 24 * 3_600_000;

/**
 * Deletes the rehearsals that are older than the school keeps them, or than the school they come from does, and notes how many, to be told.
 *
 * @param now ms since 1970
 */
export async function deleteOld(people: PeopleFile, rehearsals: Rehearsals, now: number): Promise<void> {
  const { keptDays } = await people.read();
  const old = keptDays === null ? 0 : await rehearsals.deleteBegunBefore(now - keptDays * DAY, now);
  const count = old + (await rehearsals.deleteOver(now));
  if (count > 0) await people.noteDeleted(count, now);
}

/** Does so now and once a day, until the function it gives is called. `warn` hears what went wrong. */
export async function deleteOldDaily(
  people: PeopleFile,
  rehearsals: Rehearsals,
  warn: (message: string) => void,
): Promise<() => void> {
  const work = (): Promise<void> =>
    deleteOld(people, rehearsals, Date.now()).catch((error: unknown) => warn(messageOf(error)));
  await work();
  const timer = setInterval(() => void work(), DAY);
  timer.unref();
  return () => clearInterval(timer);
}
