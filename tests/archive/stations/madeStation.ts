import { createHash } from 'node:crypto';
import { rm } from 'node:fs/promises';
import path from 'node:path';
import { attemptHash } from '../../../app/bundle/manifest.ts';
import { writeBundle, type AttemptToCarry } from '../../../app/bundle/write.ts';
import { CONSENT_TEXT } from '../../../app/people/consent.ts';
import type { Trainee } from '../../../app/people/trainee.ts';
import { UnknownRehearsal } from '../../../app/records/kept.ts';
import { QUIET, type Here } from '../../../app/sending/outbox.ts';
import type { Station } from '../../../app/sending/round.ts';
import { journalOf, reviewLine, type Rehearsed } from './rehearsed.ts';

/** A rehearsal at a made station; its files are made when they are sent. */
export interface MadeAttempt {
  readonly record: string;
  readonly startedAt: string;
  readonly trainee: Trainee;
  readonly rehearsed: Rehearsed;
  readonly sound: Buffer | null;
  /** How many verdicts a person has given. */
  reviews: number;
}

const FIRST_DAY = Date.parse('2026-01-05T08:00:00Z');
const HOUR = 3_600_000;

/** A random UUID that numbers make, always the same (RFC 9562: version 4). */
export function uuidOf(...numbers: readonly (number | string)[]): string {
  const hex = createHash('sha256').update(numbers.join('/')).digest('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-4${hex.slice(13, 16)}-a${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}

const secondOf = (moment: number): string => new Date(moment).toISOString().replace(/[-:]|\.\d+/g, '');

/**
 * The rehearsals of a station: five people who rehearse by turns, an hour apart, each time another narration.
 *
 * @param number tells this station from all others
 */
export function madeAttempts(
  number: number,
  count: number,
  played: readonly Rehearsed[],
  sounds: readonly Buffer[],
  soundEach: number,
): MadeAttempt[] {
  const trainees = Array.from({ length: 5 }, (_, n): Trainee => ({
    id: uuidOf('trainee', number, n),
    name: `Person ${n + 1} of ${number}`,
    class: `Class ${number % 8}`,
    consent: { agreed: true, text: CONSENT_TEXT, at: '2026-01-01T00:00:00.000Z', sends: true },
  }));
  return Array.from({ length: count }, (_, n) => {
    // Of stations side by side no two begin in the same second, so that each journal is one of a kind.
    const begun = FIRST_DAY + n * HOUR + number * 1000;
    const rehearsed = played[(number * 7 + n) % played.length];
    const trainee = trainees[n % trainees.length];
    if (!rehearsed || !trainee) throw new Error('There is nothing to rehearse.');
    const hasSound = sounds.length > 0 && (number + n) % soundEach === 0;
    return {
      record: `${secondOf(begun)}-${rehearsed.skill}`,
      startedAt: new Date(begun).toISOString(),
      trainee,
      rehearsed,
      sound: hasSound ? (sounds[(number * 31 + n) % sounds.length] ?? null) : null,
      reviews: 0,
    };
  });
}

/** What a bundle carries of it. */
export function carried({
  record,
  startedAt,
  trainee,
  rehearsed,
  sound,
  reviews,
}: MadeAttempt): AttemptToCarry {
  const said = Array.from({ length: reviews }, (_, n) =>
    reviewLine(rehearsed, `2026-03-0${(n % 9) + 1}T10:00:00.000Z`),
  );
  const journal = Buffer.from(journalOf(rehearsed, trainee.id, startedAt) + said.join(''));
  return {
    record,
    trainee,
    keepUntil: null,
    files: [
      { path: 'journal.jsonl', content: journal },
      ...(sound ? [{ path: 'sound.flac' as const, content: sound }] : []),
    ],
  };
}

/** The hash that the archive must have of it. */
export function hashOf(attempt: MadeAttempt): string {
  const files = carried(attempt).files.map(({ path: name, content }) => {
    if (!(content instanceof Uint8Array)) throw new Error('A made attempt lies in no file.');
    return { path: name, sha256: createHash('sha256').update(content).digest('hex') };
  });
  return attemptHash(files);
}

/** A station that has these rehearsals, all of them over, and sends them in this order. `folder` is for the files that it sends. */
export function madeStation(folder: string, attempts: readonly MadeAttempt[]): Omit<Station, 'log'> {
  const here = new Map(attempts.map((attempt) => [attempt.record, attempt]));
  const now = Date.parse('2026-06-01T00:00:00Z');
  return {
    here: async () =>
      [...here.values()].map(({ record, trainee, reviews }, place): Here => ({
        record,
        trainee: trainee.id,
        // Sent in the order in which they say that they were begun.
        startedAt: new Date(FIRST_DAY + place * HOUR).toISOString(),
        isEnded: true,
        changedAt: now - QUIET,
        stamp: String(reviews),
      })),
    trainees: async () => [...new Set(attempts.map(({ trainee }) => trainee))],
    packed: async (record, work) => {
      const attempt = here.get(record);
      if (!attempt) return null;
      const file = path.join(folder, `${record}.zip`);
      try {
        const { attempts: listed } = await writeBundle(file, [carried(attempt)], []);
        return await work({ file, sha256: listed[0]?.sha256 ?? '' });
      } finally {
        await rm(file, { force: true });
      }
    },
    delete: async (record) => {
      if (!here.delete(record)) throw new UnknownRehearsal(record);
    },
    gone: async () => [],
    forgetGone: async () => undefined,
    now: () => now,
  };
}
