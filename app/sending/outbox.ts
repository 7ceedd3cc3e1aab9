import { sendsFrom } from '../people/consent.ts';
import type { Trainee } from '../people/trainee.ts';
import type { SentEntry } from './sentLog.ts';

/** A rehearsal as it lies here. */
export interface Here {
  readonly record: string;
  /** Null for nobody in particular. */
  readonly trainee: string | null;
  /** When it began, ISO 8601 in UTC. */
  readonly startedAt: string;
  readonly isEnded: boolean;
  /** When one of its files was written last, ms since 1970. */
  readonly changedAt: number;
  /** Sizes and dates of its files: while they are the same, so is their content. */
  readonly stamp: string;
}

/** What is to be sent, and why the rest is not. */
export interface Outbox {
  /** Records to look at and send, in the order they were begun. */
  readonly due: readonly Here[];
  /** Records that will be due: they may still change. */
  readonly settling: readonly Here[];
  /** Those that the archive refused as they are. */
  readonly refused: readonly SentEntry[];
  /** How many stay here since who rehearsed did not agree that they are sent, or is nobody in particular. */
  readonly staying: number;
}

/**
 * Milliseconds without a change after which a rehearsal that is over is sent: its sound is packed within seconds of its end, and a
 * review is given verdict by verdict, each of which would send all of it again.
 */
export const QUIET = 60_000;
/** Milliseconds after which one that was broken off is over, as when its sound is packed: a day. */
const LEFT = 24 * 60 * 60_000;

/**
 * What is to be sent: nothing that lies about it counts but what the archive acknowledged.
 *
 * @param now ms since 1970
 */
export function outboxOf(
  here: readonly Here[],
  trainees: readonly Trainee[],
  sent: (record: string) => SentEntry | undefined,
  now: number,
): Outbox {
  const since = new Map(trainees.map((trainee) => [trainee.id, sendsFrom(trainee)]));
  const due: Here[] = [];
  const settling: Here[] = [];
  const refused: SentEntry[] = [];
  let staying = 0;
  for (const each of here) {
    const from = since.get(each.trainee ?? '') ?? null;
    const entry = sent(each.record);
    if (from === null || Date.parse(each.startedAt) < Date.parse(from)) staying += 1;
    else if (entry?.stamp === each.stamp) refused.push(...(entry.refused === undefined ? [] : [entry]));
    else (settledAt(each) <= now ? due : settling).push(each);
  }
  return { due: due.sort(byStart), settling, refused, staying };
}

/** When a rehearsal will have been left alone long enough to be sent, ms since 1970. */
export const settledAt = ({ changedAt, isEnded }: Here): number => changedAt + (isEnded ? QUIET : LEFT);

const byStart = (a: Here, b: Here): number => Date.parse(a.startedAt) - Date.parse(b.startedAt);
