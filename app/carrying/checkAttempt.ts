import type { CarriedAttempt } from '../bundle/manifest.ts';
import { BundleRefused } from '../bundle/refused.ts';
import { describeFault } from '../faults/faults.ts';
import type { Header } from '../records/header.ts';
import { parseJournal } from '../records/journal.ts';

/**
 * The header of an attempt's journal, once that fits what the manifest says of it. A line that is damaged later on does no harm, and may
 * have been so where it comes from.
 *
 * @throws {BundleRefused}
 */
export function checkAttempt({ record, trainee, files }: CarriedAttempt, journal: Buffer): Header {
  const refuse = (why: string): never => {
    throw new BundleRefused('bad attempt', `${record}: ${why}`);
  };
  const { header, faults } = parseJournal(journal, 'journal.jsonl');
  if (!header) {
    const [fault] = faults;
    return refuse(fault ? describeFault(fault) : 'its journal is empty');
  }
  const named = header.trainee ?? null;
  if (trainee !== null && trainee.id !== named) refuse('its journal names somebody else than the list');
  const hasSound = files.some(({ path }) => path !== 'journal.jsonl');
  if (hasSound && (header.withoutSound || (named !== null && !trainee?.consent?.agreed)))
    refuse('its sound may not be kept: nobody agreed to that');
  if (!isNamedAfter(record, header)) refuse('its name does not fit when it began, or its skill');
  return header;
}

/** What a record's name begins with: when it began, in UTC to the second, and its skill. A number may follow. */
export const nameFrom = ({ startedAt, skill }: Pick<Header, 'startedAt' | 'skill'>): string =>
  `${new Date(startedAt).toISOString().replace(/[-:]|\.\d+/g, '')}-${skill}`;

/** By its name a rehearsal is deleted when its time is over. */
export function isNamedAfter(record: string, header: Header): boolean {
  const name = nameFrom(header);
  return record === name || (record.startsWith(`${name}-`) && /^(-\d+)+$/.test(record.slice(name.length)));
}
