import { copyFile, mkdir, mkdtemp, readdir, readFile, rename, rm, truncate } from 'node:fs/promises';
import path from 'node:path';
import { GoneRecords } from '../disk/goneRecords.ts';
import { Gap } from '../disk/notKept.ts';
import { flushFolder, replaceFile, statOf, writeFlushed } from '../disk/wholeFile.ts';
import type { Library } from '../library/library.ts';
import { ReviewEventSchema, type RehearsalEvent, type ReviewEvent } from '../marking/events.ts';
import { RehearsalIdSchema, type Header } from './header.ts';
import { headerLine, parseJournal } from './journal.ts';
import { JournalWriter, startOf } from './journalWriter.ts';
import { KEEP_UNTIL_FILE, keepUntilOf } from './keepUntil.ts';
import { firstLine, folderOf, JOURNAL_FILE, readKept, traineeOf, type Kept } from './kept.ts';
import { Marker } from './marker.ts';
import type { Entry } from './index/entry.ts';
import { RehearsalIndex, type Glance, type Report } from './index/rehearsalIndex.ts';
import {
  copyAsWav,
  KeptSounds,
  samplesOf,
  SOUND_FILE,
  unpackInPlace,
  type KeptSound,
} from './packing/keptSound.ts';
import { Packer } from './packing/packer.ts';
import { appendSound, HEADER_BYTES, wavHeader } from './soundTrack.ts';
import type { RehearsalSummary } from './summary.ts';
import { newWriter, OtherWriter, WRITER_FILE, Writers } from './writer.ts';

/** A rehearsal that was begun, and the token that writes it. */
export interface Created {
  readonly id: string;
  readonly writer: string;
}

/** Sound came for a rehearsal whose trainee had not agreed that it is kept; nothing was changed. */
export class SoundNotWanted extends Error {
  override readonly name = 'SoundNotWanted';
  constructor(id: string) {
    super(`No sound is kept of rehearsal "${id}": its trainee did not agree to that.`);
  }
}

/** Milliseconds without sound after which nobody is rehearsing any more: a window sends it twice a second. */
const LIVE_FOR = 30_000;
/** Milliseconds without sound after which nobody is expected to go on with a rehearsal that was broken off: a day. */
const LEFT_FOR = 24 * 60 * 60 * 1000;
/** How long who asks for a list waits for what must be read first, ms: shorter than is felt. */
const GLANCE = 200;
/** What the names of folders begin with that are not yet, or no longer, a rehearsal. */
export const UNFINISHED = '.new-';
const DELETED = '.deleted-';

/** The rehearsals in a data folder: one folder each, with a journal, its sound and who writes them. */
export class Rehearsals {
  /** Their folder. */
  readonly root: string;
  /** What was deleted and is to be told elsewhere. */
  readonly gone: GoneRecords;
  private readonly marker: Marker;
  private readonly index: RehearsalIndex;
  private readonly journals = new Map<string, JournalWriter>();
  /** Those whose header, which never changes, allows sound: pieces come twice a second. */
  private readonly withSound = new Set<string>();
  /** Those that are known to be over, which they stay. */
  private readonly ended = new Set<string>();
  private readonly writers = new Writers();
  /** Changes in progress, one after the other to each rehearsal. */
  private readonly changing = new Map<string, Promise<unknown>>();
  private readonly sounds = new KeptSounds();
  private readonly packer: Packer;

  /** @param warn hears what went wrong that nobody asked about */
  constructor(data: string, library: Library, warn: (message: string) => void = () => undefined) {
    this.root = path.join(data, 'rehearsals');
    this.gone = new GoneRecords(this.root);
    this.marker = new Marker(library);
    this.index = new RehearsalIndex(this.root, () => this.ids(), this.marker);
    this.packer = new Packer(this.root, (id, change) => this.inTurn(id, change), warn);
  }

  /**
   * Begins a rehearsal. Its folder appears whole or not at all.
   *
   * @throws {UnknownVariant} the library has no such skill, or the skill no such variant
   */
  async create(begun: Omit<Header, 'schema'>): Promise<Created> {
    this.marker.checklistOf(begun.skill, begun.variants);
    return this.place(`${secondOf(begun.startedAt)}-${begun.skill}`, async (folder) => {
      await writeFlushed(path.join(folder, JOURNAL_FILE), headerLine({ schema: 1, ...begun }), 'wx');
      await writeFlushed(path.join(folder, SOUND_FILE), wavHeader(0), 'wx');
    });
  }

  /**
   * Begins a rehearsal with the first so many events and samples of another: what a window had kept before another one went on
   * with it.
   *
   * @throws {UnknownRehearsal}
   * @throws {Gap} there are fewer
   */
  copy(id: string, events: number, samples: number): Promise<Created> {
    return this.inTurn(id, async (from) => {
      const journal = await readFile(path.join(from, JOURNAL_FILE));
      const end = startOf(journal, 1 + events);
      if (end < 0) throw new Gap(`There are fewer than ${events} events to copy.`, 0);
      const have = await samplesOf(from);
      if (samples > have) throw new Gap(`There are only ${have} samples to copy.`, have);
      return this.place(id, async (folder) => {
        await writeFlushed(path.join(folder, JOURNAL_FILE), journal.subarray(0, end), 'wx');
        const sound = path.join(folder, SOUND_FILE);
        await copyAsWav(from, sound);
        await truncate(sound, HEADER_BYTES + 2 * samples);
        await appendSound(sound, samples, new Uint8Array());
        if ((await keepUntilOf(from)) !== null)
          await copyFile(path.join(from, KEEP_UNTIL_FILE), path.join(folder, KEEP_UNTIL_FILE));
      });
    });
  }

  /** Makes who asks the writer of a rehearsal, and ends the right of who was. Throws {@link UnknownRehearsal}. */
  takeOver(id: string): Promise<string> {
    return this.inTurn(id, async (folder) => {
      const { token, mark } = newWriter();
      this.writers.forget(id);
      await replaceFile(path.join(folder, WRITER_FILE), mark);
      return token;
    });
  }

  /**
   * Adds events, as {@link JournalWriter.add} does. Once they end the rehearsal, its sound is packed.
   *
   * @throws {UnknownRehearsal}
   * @throws {OtherWriter}
   */
  addEvents(id: string, from: number, events: readonly RehearsalEvent[], writer: string): Promise<number> {
    return this.inTurn(id, async (folder) => {
      if (!(await this.writers.isWriter(id, folder, writer))) throw new OtherWriter(id);
      const kept = await this.journalIn(folder, id).add(from, events);
      if (events.some(isEnd)) {
        this.ended.add(id);
        this.packer.packSoon(id);
      }
      return kept;
    });
  }

  /**
   * Adds what a person says of a rehearsal that is over, at the journal's end.
   *
   * @param now ms since 1970
   * @throws {UnknownRehearsal}
   * @throws {OtherWriter} somebody is rehearsing it just now
   */
  addReview(id: string, events: readonly ReviewEvent[], now = Date.now()): Promise<number> {
    return this.inTurn(id, async (folder) => {
      if (await this.isLive(id, now)) throw new OtherWriter(id);
      return this.journalIn(folder, id).add('end', events);
    });
  }

  /**
   * Adds sound, as {@link appendSound} does, also where it was packed.
   *
   * @throws {UnknownRehearsal}
   * @throws {OtherWriter}
   * @throws {SoundNotWanted}
   */
  addSound(id: string, from: number, sound: Uint8Array, writer: string): Promise<number> {
    return this.inTurn(id, async (folder) => {
      if (!(await this.writers.isWriter(id, folder, writer))) throw new OtherWriter(id);
      if (!this.withSound.has(id)) {
        const { header } = parseJournal(await firstLine(folder), id);
        if (header?.withoutSound) throw new SoundNotWanted(id);
        this.withSound.add(id);
      }
      await unpackInPlace(folder);
      return appendSound(path.join(folder, SOUND_FILE), from, sound);
    });
  }

  /** Reads a rehearsal back, as far as it can be read. Throws {@link UnknownRehearsal}. */
  read(id: string): Promise<Kept> {
    return readKept(this.root, id);
  }

  /** Who rehearsed, as {@link traineeOf} has it. Throws {@link UnknownRehearsal}. */
  traineeOf(id: string): Promise<string | null> {
    return traineeOf(this.root, id);
  }

  /** The sound of a rehearsal, unpacked. Throws {@link UnknownRehearsal} and {@link DamagedSound}. */
  async sound(id: string): Promise<KeptSound> {
    return this.sounds.of(await folderOf(this.root, id));
  }

  /** Packs the sound of a rehearsal that is over, as {@link Packer.pack} does. Throws {@link UnknownRehearsal}. */
  pack(id: string): Promise<void> {
    return this.packer.pack(id);
  }

  /**
   * Packs the sound of all rehearsals that are over, or were broken off and left for a day.
   *
   * @param now ms since 1970
   */
  packAll(now = Date.now()): Promise<void> {
    return this.packer.packAll(this.over(now));
  }

  /** All rehearsals, the newest first. `report` hears how far it is where many must be read. */
  async list(report?: Report): Promise<RehearsalSummary[]> {
    return this.summaries(await this.index.all(report));
  }

  /** All rehearsals as the index has them, the newest first, and `report` as for {@link list}. */
  entries(report?: Report): Promise<readonly Entry[]> {
    return this.index.all(report);
  }

  /** What is known of them after some ms at the latest: all, but where many must be read first. */
  glance(within = GLANCE): Promise<Glance> {
    return this.index.glance(within);
  }

  /** Reads and marks every rehearsal anew. */
  async rebuild(report?: Report): Promise<RehearsalSummary[]> {
    return this.summaries(await this.index.rebuild(report));
  }

  /** The summaries of entries of the index. */
  summaries(entries: readonly Entry[]): Promise<RehearsalSummary[]> {
    return Promise.all(entries.map((entry) => this.index.summaryOf(entry)));
  }

  /**
   * Deletes all of a rehearsal. One that somebody is rehearsing just now can be deleted by its writer only.
   *
   * @param now ms since 1970
   * @throws {UnknownRehearsal}
   * @throws {OtherWriter}
   */
  delete(id: string, writer: string, now = Date.now()): Promise<void> {
    return this.inTurn(id, async (folder) => {
      if (!(await this.writers.isWriter(id, folder, writer)) && (await this.isLive(id, now)))
        throw new OtherWriter(id);
      // Before it is: one that is noted and still there was not deleted.
      await this.gone.note(id, now);
      // It is gone at once; what a crash leaves under the other name is cleared away at the next start.
      const gone = path.join(this.root, `${DELETED}${id}`);
      await rm(gone, { recursive: true, force: true });
      await rename(folder, gone);
      this.journals.delete(id);
      this.withSound.delete(id);
      this.ended.delete(id);
      this.writers.forget(id);
      this.sounds.forget();
      await this.index.forget([id]);
      await rm(gone, { recursive: true });
      await flushFolder(this.root);
    });
  }

  /**
   * Deletes all rehearsals of a trainee. Where a header is damaged, the id anywhere in it counts.
   *
   * @param now ms since 1970
   * @throws {OtherWriter} one of them is going on just now; then none is deleted
   */
  async deleteAllOf(trainee: string, now = Date.now()): Promise<void> {
    const theirs: string[] = [];
    for (const id of await this.ids())
      if ((await firstLine(path.join(this.root, id))).includes(trainee)) theirs.push(id);
    for (const id of theirs) if (await this.isLive(id, now)) throw new OtherWriter(id);
    await this.index.forget(theirs);
    for (const id of theirs) await this.delete(id, '', now);
  }

  /**
   * Deletes all rehearsals that were begun before a moment, but for one that is going on. Gives how many.
   *
   * @param moment ms since 1970
   * @param now ms since 1970
   */
  async deleteBegunBefore(moment: number, now = Date.now()): Promise<number> {
    const old: string[] = [];
    // Ids begin with the time, in a form that sorts.
    for (const id of (await this.ids()).filter((each) => each < secondOf(moment))) {
      const isThere = await statOf(path.join(this.root, id, JOURNAL_FILE));
      if (isThere && !(await this.isLive(id, now))) old.push(id);
    }
    // All at once: each would cost the writing of a file of the index.
    await this.index.forget(old);
    for (const id of old) await this.delete(id, '', now);
    return old.length;
  }

  /** Deletes all whose time, settled on another machine, is over, but for one that is going on. `now` is in ms since 1970. Gives how many. */
  async deleteOver(now = Date.now()): Promise<number> {
    let deleted = 0;
    for (const id of await this.ids()) {
      const until = await keepUntilOf(path.join(this.root, id));
      if (until === null || until > now || (await this.isLive(id, now))) continue;
      await this.delete(id, '', now);
      deleted += 1;
    }
    return deleted;
  }

  /** Changes several rehearsals at once, when all changes to them before are done. Throws {@link UnknownRehearsal}. */
  hold<T>(ids: readonly string[], change: () => Promise<T>): Promise<T> {
    const [id, ...rest] = ids;
    if (id === undefined) return change();
    return this.inTurn(id, () => {
      // Its folder may be another one afterwards.
      this.writers.forget(id);
      return this.hold(rest, change);
    });
  }

  /** Clears away what a program that was stopped has left half begun or half deleted. Nothing else may be using the folder. */
  async tidy(): Promise<void> {
    const left = (await this.names()).filter(
      (name) => name.startsWith(UNFINISHED) || name.startsWith(DELETED),
    );
    for (const name of left) await rm(path.join(this.root, name), { recursive: true, force: true });
  }

  /** Stops packing, and waits until what is being written is on disk. */
  async close(): Promise<void> {
    await this.packer.stop();
    await this.index.close();
    await Promise.allSettled(this.changing.values());
  }

  /** Makes a folder that appears whole, under a name that begins so, or not at all. */
  private async place(name: string, fill: (folder: string) => Promise<void>): Promise<Created> {
    await mkdir(this.root, { recursive: true });
    const fresh = await mkdtemp(path.join(this.root, UNFINISHED));
    const { token, mark } = newWriter();
    try {
      await fill(fresh);
      await writeFlushed(path.join(fresh, WRITER_FILE), mark, 'wx');
      await flushFolder(fresh);
      let id = name;
      for (let n = 2; await statOf(path.join(this.root, id)); n++) id = `${name}-${n}`;
      await rename(fresh, path.join(this.root, id));
      await flushFolder(this.root);
      return { id, writer: token };
    } catch (error) {
      await rm(fresh, { recursive: true, force: true }).catch(() => undefined);
      throw error;
    }
  }

  private journalIn(folder: string, id: string): JournalWriter {
    const journal = this.journals.get(id) ?? new JournalWriter(path.join(folder, JOURNAL_FILE));
    this.journals.set(id, journal);
    return journal;
  }

  /** Whether somebody is rehearsing it just now. `now` is in ms since 1970. */
  async isLive(id: string, now: number): Promise<boolean> {
    if (this.ended.has(id)) return false;
    const files = [JOURNAL_FILE, SOUND_FILE].map((name) => statOf(path.join(this.root, id, name)));
    const changed = (await Promise.all(files)).map((file) => file?.changedAt ?? 0);
    if (now - Math.max(...changed) > LIVE_FOR) return false;
    const { events } = await this.read(id);
    if (events.some(isEnd)) this.ended.add(id);
    return !this.ended.has(id) && !ReviewEventSchema.safeParse(events.at(-1)).success;
  }

  /** Those that are over and have a WAV file. */
  private async *over(now: number): AsyncGenerator<string> {
    for (const id of await this.ids()) {
      const wav = await statOf(path.join(this.root, id, SOUND_FILE));
      if (!wav) continue;
      const isLeft = now - wav.changedAt > LEFT_FOR;
      // One that cannot be read is left alone.
      const kept = isLeft ? null : await this.read(id).catch(() => null);
      if (isLeft || kept?.events.some(isEnd)) yield id;
    }
  }

  /** The ids of all rehearsals, the newest first. */
  async ids(): Promise<string[]> {
    const names = await this.names();
    return names
      .filter((name) => RehearsalIdSchema.safeParse(name).success)
      .sort()
      .reverse();
  }

  private async names(): Promise<string[]> {
    return readdir(this.root).catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return [];
      throw error;
    });
  }

  /** Changes a rehearsal, given its folder, once all changes before are done. Throws {@link UnknownRehearsal}. */
  private inTurn<T>(id: string, change: (folder: string) => Promise<T>): Promise<T> {
    const work = async (): Promise<T> => change(await folderOf(this.root, id));
    const turn = (this.changing.get(id) ?? Promise.resolve()).then(work, work);
    this.changing.set(id, turn);
    const leave = (): void => {
      if (this.changing.get(id) === turn) this.changing.delete(id);
    };
    turn.then(leave, leave);
    return turn;
  }
}

/** A moment in UTC to the second, as ids begin with it: `20260131T093000Z`. */
const secondOf = (moment: string | number): string =>
  new Date(moment).toISOString().replace(/[-:]|\.\d+/g, '');
const isEnd = ({ type }: RehearsalEvent): boolean => type === 'ended';
