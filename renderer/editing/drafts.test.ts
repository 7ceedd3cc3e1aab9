import { expect, it } from 'vitest';
import { forgetDraft, keepDraft, keptDraft, keptDrafts } from './drafts.ts';

/** A browser's storage, which may refuse. */
function storageOf(refuses = false): Storage {
  const kept = new Map<string, string>([['another program', 'x']]);
  const allowed = <T>(value: T): T => {
    if (refuses) throw new DOMException('', 'SecurityError');
    return value;
  };
  return {
    get length() {
      return allowed(kept.size);
    },
    key: (i) => [...kept.keys()][i] ?? null,
    getItem: (key) => allowed(kept.get(key) ?? null),
    setItem: (key, value) => void allowed(kept.set(key, value)),
    removeItem: (key) => void allowed(kept.delete(key)),
    clear: () => kept.clear(),
  };
}

it('a draft is kept until it is forgotten, beside what others keep', () => {
  const storage = storageOf();
  keepDraft('tray', 'schema: 1', storage);
  keepDraft('bed', '', storage);
  expect(keptDrafts(storage)).toEqual(['bed', 'tray']);
  expect([keptDraft('tray', storage), keptDraft('bed', storage)]).toEqual(['schema: 1', '']);
  forgetDraft('tray', storage);
  expect([keptDraft('tray', storage), keptDrafts(storage)]).toEqual([null, ['bed']]);
});

it('a browser that keeps nothing stops nothing', () => {
  const storage = storageOf(true);
  keepDraft('tray', 'schema: 1', storage);
  forgetDraft('tray', storage);
  expect([keptDraft('tray', storage), keptDrafts(storage)]).toEqual([null, []]);
});
