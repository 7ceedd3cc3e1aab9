import path from 'node:path';
import { MOST_JOURNAL, MOST_SOUND } from '../bundle/limits.ts';
import type { AttemptToCarry } from '../bundle/write.ts';
import { statOf } from '../disk/wholeFile.ts';
import { decisionOf } from '../people/consent.ts';
import type { PeopleFile } from '../people/peopleFile.ts';
import { parseJournal } from '../records/journal.ts';
import { keepUntilOf } from '../records/keepUntil.ts';
import { firstLine, JOURNAL_FILE, type Kept } from '../records/kept.ts';
import { PACKED_FILE, samplesOf, SOUND_FILE } from '../records/packing/keptSound.ts';
import type { Rehearsals } from '../records/rehearsals.ts';
import type { MarkedUnder } from './carriedSkills.ts';
import { isNamedAfter } from './checkAttempt.ts';

const DAY = 24 * 3_600_000;

/** Which rehearsals are carried elsewhere: those of these ids, or of a class since a moment. */
export type Wanted =
  | { readonly ids: readonly string[] }
  /** @param class null for every class, and for those of nobody; `since`: ms since 1970 */
  | { readonly class: string | null; readonly since: number };

/** The ids of the wanted rehearsals, the newest first; those of a class by its trainees' names here. */
export async function wantedIds(
  wanted: Wanted,
  rehearsals: Rehearsals,
  people: PeopleFile,
): Promise<string[]> {
  const all = await rehearsals.ids();
  if ('ids' in wanted) return all.filter((id) => wanted.ids.includes(id));
  const { trainees } = await people.read();
  const classOf = new Map(trainees.map(({ id, class: name }) => [id, name]));
  const found: string[] = [];
  for (const id of all) {
    const { header } = parseJournal(await firstLine(path.join(rehearsals.root, id)), id);
    if (!header || Date.parse(header.startedAt) < wanted.since) continue;
    if (wanted.class === null || classOf.get(header.trainee ?? '') === wanted.class) found.push(id);
  }
  return found;
}

/** Makes attempts of rehearsals ready to be carried, and tells what has to be left out. */
export class Gathering {
  /** Ids, and why they were left out. */
  readonly leftOut: { readonly id: string; readonly why: string }[] = [];
  /** What the attempts were marked under. */
  readonly markedUnder: MarkedUnder[] = [];

  constructor(
    private readonly rehearsals: Rehearsals,
    private readonly people: PeopleFile,
    /** ms since 1970 */
    private readonly now: number,
  ) {}

  /** The attempts one after the other: each is packed first where it is over, and what its trainee does not agree to is left out. */
  async *attempts(ids: readonly string[]): AsyncGenerator<AttemptToCarry> {
    for (const id of ids) {
      const kept = await this.rehearsals.read(id).catch(() => null);
      const why = kept ? await this.whyNot(id, kept) : 'it was deleted meanwhile';
      if (kept === null || why !== null) this.leftOut.push({ id, why: why ?? '' });
      else yield await this.attemptOf(id, kept);
    }
  }

  private async whyNot(id: string, { header, faults, samples }: Kept): Promise<string | null> {
    if (await this.rehearsals.isLive(id, this.now)) return 'somebody is rehearsing it just now';
    // What is told of a header that is lost was never in the journal.
    if (faults.some(({ line }) => line === 1) || header.engine === 'unknown') return 'its header is lost';
    if (!isNamedAfter(id, header)) return 'its folder was renamed';
    if (2 * samples > MOST_SOUND) return 'its sound is too long';
    const journal = await statOf(path.join(this.rehearsals.root, id, JOURNAL_FILE));
    return (journal?.size ?? 0) > MOST_JOURNAL ? 'its journal is too long' : null;
  }

  private async attemptOf(id: string, { header, events }: Kept): Promise<AttemptToCarry> {
    const folder = path.join(this.rehearsals.root, id);
    // Packed sound takes half the space, and does not change any more. What cannot be packed goes as it is.
    if (events.some(({ type }) => type === 'ended')) await this.rehearsals.pack(id).catch(() => undefined);
    const { trainees, keptDays } = await this.people.read();
    const trainee = trainees.find((each) => each.id === header.trainee) ?? null;
    const mayCarrySound = !header.trainee || (trainee !== null && decisionOf(trainee) === true);
    const journal = path.join(folder, JOURNAL_FILE);
    const { size = 0 } = (await statOf(journal)) ?? {};
    this.noteVersions(header, events);
    return {
      record: id,
      trainee,
      keepUntil: await keepUntil(folder, Date.parse(header.startedAt), keptDays),
      files: [
        { path: 'journal.jsonl', content: { file: journal, bytes: size } },
        ...(mayCarrySound ? await soundIn(folder) : []),
      ],
    };
  }

  private noteVersions({ skill, version }: Kept['header'], events: Kept['events']): void {
    if (version !== undefined) this.markedUnder.push({ skill, version });
    for (const event of events) if (event.type === 'drawn') this.markedUnder.push(...event.skills);
  }
}

/** Until when a rehearsal is kept: by the school that it comes from or by this one, whichever is sooner. */
async function keepUntil(folder: string, startedAt: number, keptDays: number | null): Promise<string | null> {
  const elsewhere = await keepUntilOf(folder);
  const here = keptDays === null ? null : startedAt + keptDays * DAY;
  const times = [elsewhere, here].filter((time) => time !== null);
  return times.length === 0 ? null : new Date(Math.min(...times)).toISOString();
}

async function soundIn(folder: string): Promise<AttemptToCarry['files'][number][]> {
  if ((await samplesOf(folder)) === 0) return [];
  for (const name of [SOUND_FILE, PACKED_FILE] as const) {
    const file = path.join(folder, name);
    const stat = await statOf(file);
    if (stat) return [{ path: name, content: { file, bytes: stat.size } }];
  }
  return [];
}
