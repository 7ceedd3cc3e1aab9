import { createHash } from 'node:crypto';
import { readNarrations } from '../../app/library/library.ts';
import { attemptHash, entryOf, type CarriedAttempt, type Manifest } from '../../app/bundle/manifest.ts';
import type { OpenBundle } from '../../app/bundle/read.ts';
import { headerLine } from '../../app/records/journal.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { narrate, shipped } from '../rehearsal/making/narrate.ts';

/** Journals as the program writes them: narrations of the skills heard by its own core, with some lines left out from a seed. */

const narrations = await readNarrations();

/** A sequence of numbers in 0–1 from a seed (a linear congruential generator with the constants of Numerical Recipes). */
export function numbersFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => (state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0) / 2 ** 32;
}

export interface MadeJournal {
  readonly skill: string;
  readonly startedAt: string;
  readonly text: string;
}

/** One journal; the same number makes the same one. @param skill only of that skill */
export function madeJournal(nth: number, skill?: string): MadeJournal {
  const random = numbersFrom(nth * 7919 + 17);
  const own = narrations.filter((each) => skill === undefined || each.skill === skill);
  const narration = own[Math.floor(random() * own.length)];
  if (!narration) throw new Error(`There is no narration of "${skill}".`);
  const checklist = shipped(narration.skill, narration.variants);
  const said = narration.says.filter((each) => typeof each === 'number' || random() > 0.15);
  const { events, state } = narrate(checklist, said);
  const startedAt = new Date(Date.UTC(2026, 0, 5, 8) + Math.floor(random() * 290 * 86_400_000)).toISOString();
  const header = headerLine({
    schema: 1,
    skill: narration.skill,
    version: checklist.skill.version,
    variants: checklist.variants,
    style: 'coach',
    engine: 'moonshine/moonshine-tiny-en-tap',
    startedAt,
    trainee: null,
  });
  const end = Math.max(0, ...state.utterances.map(({ end }) => end)) + 1;
  const all: RehearsalEvent[] = [
    { type: 'began', skill: narration.skill, variants: checklist.variants },
    ...events,
    { type: 'ended', at: end },
  ];
  return {
    skill: narration.skill,
    startedAt,
    text: header + all.map((event) => `${JSON.stringify(event)}\n`).join(''),
  };
}

/** A bundle of journals in memory, each of its own trainee. */
export function madeBundle(
  journals: readonly (MadeJournal & {
    readonly record: string;
    readonly trainee: CarriedAttempt['trainee'];
  })[],
): OpenBundle {
  const files = new Map<string, Buffer>();
  const attempts = journals.map(({ record, trainee, text }): CarriedAttempt => {
    const bytes = Buffer.from(text);
    files.set(entryOf(record, 'journal.jsonl'), bytes);
    const listed = [
      {
        path: 'journal.jsonl' as const,
        bytes: bytes.length,
        sha256: createHash('sha256').update(bytes).digest('hex'),
      },
    ];
    return { record, sha256: attemptHash(listed), trainee, keepUntil: null, files: listed };
  });
  const manifest: Manifest = {
    format: 'sinkside-bundle',
    version: 1,
    madeAt: '2026-11-30T08:00:00.000Z',
    program: 'test',
    attempts,
    skills: [],
  };
  const read = (path: string): Promise<Buffer> => {
    const bytes = files.get(path);
    return bytes ? Promise.resolve(bytes) : Promise.reject(new Error(`The bundle has no file "${path}".`));
  };
  return {
    manifest,
    read,
    stream: async function* (path) {
      yield await read(path);
    },
    check: async (path) => void (await read(path)),
    verify: () => Promise.resolve(),
    close: () => Promise.resolve(),
  };
}

/** The id of a record that began then, as a station names it. */
export const recordOf = ({ startedAt, skill }: MadeJournal, nth = 1): string =>
  `${startedAt.replace(/[-:]|\.\d+/g, '')}-${skill}${nth > 1 ? `-${nth}` : ''}`;
