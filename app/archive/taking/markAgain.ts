import { eventsAgain } from '../../authoring/remark.ts';
import { drawnIn } from '../../records/marker.ts';
import { UnknownVariant } from '../../skills/checklist.ts';
import { markAttempt, type Marked, type ReadJournal } from './markAttempt.ts';
import type { Marking } from './schoolLibrary.ts';

/** An attempt that cannot be marked again, and why. */
export class NotMarkedAgain extends Error {
  override readonly name = 'NotMarkedAgain';
}

/**
 * Marks an attempt under another version of its skill, or by another program: what was heard stays, what it means is worked out again.
 * What persons said of it stays as well.
 *
 * @throws {NotMarkedAgain} it is a mock test, or there is no such version or variant of the skill
 */
export function markAgain(record: string, journal: ReadJournal, marking: Marking, version: number): Marked {
  const { header, events } = journal;
  if (drawnIn(events))
    throw new NotMarkedAgain('It is a mock test, which keeps the versions it was drawn with.');
  const checklist = checklistOf(journal, marking, version);
  const said = events.filter((event) => 'madeAt' in event);
  return markAttempt(
    record,
    { ...journal, header: { ...header, version }, events: [...eventsAgain(checklist, events), ...said] },
    marking,
  );
}

/**
 * Marks an attempt whose journal went on, or was reviewed: as it was marked last. Once it was marked again it stays with that version.
 *
 * @param there what the archive has of it; undefined where it is new
 */
export function markAsLast(
  record: string,
  journal: ReadJournal,
  marking: Marking,
  there: { readonly again: boolean; readonly version: number | null } | undefined,
): Marked {
  if (!there?.again || there.version === null) return markAttempt(record, journal, marking);
  try {
    return markAgain(record, journal, marking, there.version);
  } catch (error) {
    if (!(error instanceof NotMarkedAgain)) throw error;
    return markAttempt(record, journal, marking);
  }
}

function checklistOf({ header }: ReadJournal, { marker }: Marking, version: number) {
  try {
    const checklist = marker.checklistOf(header.skill, header.variants, version);
    if (checklist.skill.version === version) return checklist;
  } catch (error) {
    if (!(error instanceof UnknownVariant)) throw error;
    throw new NotMarkedAgain(error.message, { cause: error });
  }
  throw new NotMarkedAgain(`There is no version ${version} of the skill "${header.skill}".`);
}
