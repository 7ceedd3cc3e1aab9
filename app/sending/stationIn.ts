import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { writeBundle, type AttemptToCarry } from '../bundle/write.ts';
import { statOf } from '../disk/wholeFile.ts';
import type { PeopleFile } from '../people/peopleFile.ts';
import { JOURNAL_FILE, UnknownRehearsal } from '../records/kept.ts';
import { PACKED_FILE, SOUND_FILE } from '../records/packing/keptSound.ts';
import type { Rehearsals } from '../records/rehearsals.ts';
import { rehearsalsHere } from './here.ts';
import type { StationWithoutLog } from './sender.ts';

/** A day in ms. */
const DAY = 24 * 3_600_000;

/** The station that a data folder makes: its rehearsals, its people and what is deleted of them. */
export function stationIn(data: string, rehearsals: Rehearsals, people: PeopleFile): StationWithoutLog {
  const outgoing = path.join(data, 'outgoing');
  return {
    here: () => rehearsalsHere(data, rehearsals),
    trainees: async () => (await people.read()).trainees,
    packed: async (record, work) => {
      const attempt = await attemptOf(data, record, rehearsals, people);
      if (!attempt) return null;
      await mkdir(outgoing, { recursive: true });
      const file = path.join(outgoing, `${record}.zip`);
      try {
        const { attempts } = await writeBundle(file, [attempt], []);
        // A bundle of one has one.
        return await work({ file, sha256: attempts[0]!.sha256 });
      } finally {
        await rm(file, { force: true });
      }
    },
    delete: (record) => rehearsals.delete(record, ''),
    gone: () => rehearsals.gone.read(),
    forgetGone: (records) => rehearsals.gone.forget(records),
    noteGone: (on) => (on ? rehearsals.gone.keep() : rehearsals.gone.stop()),
    tidy: () => rm(outgoing, { recursive: true, force: true }),
    now: Date.now,
  };
}

/** A rehearsal as it is carried: with who rehearsed, and until when the school keeps it. Null where it is gone. */
async function attemptOf(
  data: string,
  record: string,
  rehearsals: Rehearsals,
  people: PeopleFile,
): Promise<AttemptToCarry | null> {
  const kept = await rehearsals.read(record).catch((error: unknown) => {
    if (error instanceof UnknownRehearsal) return null;
    throw error;
  });
  if (!kept) return null;
  const { trainees, keptDays } = await people.read();
  const folder = path.join(data, 'rehearsals', record);
  const sound = (await statOf(path.join(folder, SOUND_FILE))) ? SOUND_FILE : PACKED_FILE;
  const files: AttemptToCarry['files'][number][] = [];
  for (const name of [JOURNAL_FILE, sound] as const) {
    const file = path.join(folder, name);
    const found = await statOf(file);
    if (found) files.push({ path: name, content: { file, bytes: found.size } });
  }
  const { header } = kept;
  return {
    record,
    trainee: trainees.find(({ id }) => id === header.trainee) ?? null,
    keepUntil: keptDays === null ? null : new Date(Date.parse(header.startedAt) + keptDays * DAY).toISOString(),
    files,
  };
}
