import { sql } from 'kysely';
import type { Archive } from '../store/connection.ts';

/** How far a marking is. */
export interface MarkingProgress {
  readonly marking: string;
  readonly skill: string;
  readonly version: number;
  readonly askedAt: Date;
  /** Attempts that it is to reach, those that were deleted since left out. */
  readonly of: number;
  readonly done: number;
  /** Of those done: marked otherwise than before, and not to be marked. */
  readonly changed: number;
  readonly leftOut: number;
  /** Attempts a minute, over the last minute; 0 where none was marked in it. */
  readonly perMinute: number;
  /** Null where it is done, or nobody works on it now. */
  readonly secondsLeft: number | null;
}

/** How far the markings are, the latest first. */
export function progressOf(archive: Archive): Promise<MarkingProgress[]> {
  return archive.as({ role: 'worker' }, async (db) => {
    const { rows } = await sql<Omit<MarkingProgress, 'secondsLeft'>>`
      select m.id as marking, m.skill, m.version, m.made_at as "askedAt", a.n as of, d.done, d.changed, d."leftOut", d."perMinute"
      from markings m
      cross join lateral (
        select count(*)::int as n from attempts where skill = m.skill and id <= m.up_to and version is not null) a
      cross join lateral (
        select count(*)::int as done, count(*) filter (where changed)::int as changed, count(*) filter (where why <> '')::int as "leftOut",
          count(*) filter (where at > now() - interval '1 minute')::int as "perMinute"
        from marked_again where marking_id = m.id) d
      order by m.id desc`.execute(db);
    return rows.map((row) => ({ ...row, secondsLeft: timeLeft(row) }));
  });
}

function timeLeft({ of, done, perMinute }: Omit<MarkingProgress, 'secondsLeft'>): number | null {
  if (done >= of || perMinute === 0) return null;
  return Math.ceil((60 * (of - done)) / perMinute);
}

/** What a line tells of a marking. */
export type ToldProgress = Omit<MarkingProgress, 'marking' | 'askedAt'>;

/** The progress of one marking in a line. */
export function progressLine(progress: ToldProgress): string {
  const { skill, version, done, of, changed, leftOut, perMinute, secondsLeft } = progress;
  const share = of === 0 ? 100 : Math.floor((100 * done) / of);
  const parts = [
    `${skill}, version ${version}: ${done} of ${of} (${share} %)`,
    `${changed} marked otherwise`,
    ...(leftOut > 0 ? [`${leftOut} left out`] : []),
    ...(done < of ? [`${perMinute} a minute`] : []),
    ...(secondsLeft === null ? [] : [`about ${timeSays(secondsLeft)} left`]),
  ];
  return parts.join(', ');
}

function timeSays(seconds: number): string {
  if (seconds < 90) return `${seconds} s`;
  return seconds < 5400 ? `${Math.round(seconds / 60)} min` : `${(seconds / 3600).toFixed(1)} h`;
}
