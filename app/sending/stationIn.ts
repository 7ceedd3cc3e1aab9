import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import type { Carrier } from '../carrying/carrier.ts';
import type { PeopleFile } from '../people/peopleFile.ts';
import { UnknownRehearsal } from '../records/kept.ts';
import type { Rehearsals } from '../records/rehearsals.ts';
import { rehearsalsHere } from './here.ts';
import { CannotPack } from './round.ts';
import type { StationWithoutLog } from './sender.ts';

/** The station that a data folder makes: its rehearsals, its people and what is deleted of them. */
export function stationIn(
  data: string,
  rehearsals: Rehearsals,
  people: PeopleFile,
  carrier: Carrier,
): StationWithoutLog {
  const outgoing = path.join(data, 'outgoing');
  const isGone = (record: string): Promise<boolean> =>
    rehearsals.traineeOf(record).then(
      () => false,
      (error: unknown) => error instanceof UnknownRehearsal,
    );
  return {
    here: () => rehearsalsHere(rehearsals),
    trainees: async () => (await people.read()).trainees,
    packed: async (record, work) => {
      await mkdir(outgoing, { recursive: true });
      const file = path.join(outgoing, `${record}.zip`);
      try {
        const { manifest, leftOut } = await carrier.make(file, { ids: [record] });
        const [attempt] = manifest.attempts;
        if (attempt) return await work({ file, sha256: attempt.sha256 });
        if (await isGone(record)) return null;
        throw new CannotPack(leftOut[0]?.why ?? 'it cannot be packed');
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
