/**
 * Skill files that were written and not yet saved, kept in this browser so that a closed window loses nothing. Where the
 * browser keeps nothing (private windows, full storage) all else goes on.
 */

const PREFIX = 'sinkside draft ';

/** The text kept for a skill; null where there is none. */
export const keptDraft = (id: string, storage: Storage = localStorage): string | null =>
  quietly(() => storage.getItem(PREFIX + id), null);

export const keepDraft = (id: string, source: string, storage: Storage = localStorage): void =>
  quietly(() => storage.setItem(PREFIX + id, source), undefined);

export const forgetDraft = (id: string, storage: Storage = localStorage): void =>
  quietly(() => storage.removeItem(PREFIX + id), undefined);

/** Ids of the skills that a text is kept for. */
export const keptDrafts = (storage: Storage = localStorage): string[] =>
  quietly(
    () =>
      Array.from({ length: storage.length }, (_, i) => storage.key(i) ?? '')
        .filter((key) => key.startsWith(PREFIX))
        .map((key) => key.slice(PREFIX.length))
        .sort(),
    [],
  );

function quietly<T>(work: () => T, otherwise: T): T {
  try {
    return work();
  } catch {
    return otherwise;
  }
}
