import path from 'node:path';
import { statOf } from '../disk/wholeFile.ts';
import { JOURNAL_FILE } from '../records/kept.ts';
import { PACKED_FILE, SOUND_FILE } from '../records/packing/keptSound.ts';
import type { Rehearsals } from '../records/rehearsals.ts';
import type { Here } from './outbox.ts';

/** The rehearsals there are, with when each was changed. */
export async function rehearsalsHere(rehearsals: Rehearsals): Promise<Here[]> {
  const here: Here[] = [];
  for (const { id, trainee = null, startedAt, state } of await rehearsals.list()) {
    const files = await stamped(path.join(rehearsals.root, id));
    // It was deleted meanwhile.
    if (!files) continue;
    here.push({ record: id, trainee, startedAt, isEnded: state === 'ended', ...files });
  }
  return here;
}

/** Null where the journal is gone. */
async function stamped(folder: string): Promise<Pick<Here, 'changedAt' | 'stamp'> | null> {
  const names = [JOURNAL_FILE, PACKED_FILE, SOUND_FILE];
  const files = await Promise.all(names.map((name) => statOf(path.join(folder, name))));
  if (!files[0]) return null;
  return {
    changedAt: Math.max(...files.map((file) => file?.changedAt ?? 0)),
    stamp: JSON.stringify(files.map((file) => file && [file.size, file.changedAt])),
  };
}
