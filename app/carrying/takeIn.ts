import path from 'node:path';
import { open, rm } from 'node:fs/promises';
import { entryOf, type CarriedAttempt } from '../bundle/manifest.ts';
import type { OpenBundle } from '../bundle/read.ts';
import { BundleRefused } from '../bundle/refused.ts';
import { MOST_SOUND } from '../bundle/limits.ts';
import { statOf, writeFlushed } from '../disk/wholeFile.ts';
import { decisionOf } from '../people/consent.ts';
import type { Trainee } from '../people/trainee.ts';
import type { Header } from '../records/header.ts';
import { NEWLINE } from '../records/journal.ts';
import { KEEP_UNTIL_FILE } from '../records/keepUntil.ts';
import { firstLine, JOURNAL_FILE } from '../records/kept.ts';
import { PACKED_FILE, samplesOf } from '../records/packing/keptSound.ts';
import { streamInfo } from '../records/packing/flac.ts';
import { HEADER_BYTES, SOUND_RATE } from '../records/soundTrack.ts';
import { newWriter, WRITER_FILE } from '../records/writer.ts';
import { becameOf } from './carriedSkills.ts';
import { checkAttempt, nameFrom } from './checkAttempt.ts';
import { compareJournals, type Comparison } from './compareJournals.ts';
import { dateFiles, readJournalBytes, writeStream, type Place, type Staging } from './staging.ts';
import type { TakenIn } from './takenIn.ts';

type Outcome = TakenIn['attempts'][number];

/** A rehearsal that is here changed while a bundle was taken in, of which nothing was kept. */
export class ChangedHere extends Error {
  override readonly name = 'ChangedHere';
  constructor(id: string) {
    super(`Rehearsal "${id}" changed while the file was taken in. Nothing was taken in: try again.`);
  }
}

/** A rehearsal that is here and is the same as one in the bundle, as far as both go. */
interface Counterpart {
  readonly id: string;
  readonly comparison: Comparison;
  readonly changedAt: number;
}

/** An attempt of the bundle that was checked. */
interface Coming {
  readonly attempt: CarriedAttempt;
  readonly header: Header;
  readonly journal: Buffer;
  /** Whether its trainee agrees that sound is kept. */
  readonly mayKeepSound: boolean;
}

/** Makes one bundle ready to be put in its place: its attempts one after the other, each checked and compared with what is here. */
export class TakingIn {
  private readonly attempts: Outcome[] = [];
  /** Rehearsals that are here, or made ready, and have a counterpart in the bundle. */
  private readonly used = new Set<string>();
  /** Those whose files are replaced, and when they were changed last. */
  private readonly replaced = new Map<string, number>();
  private readonly missing = new Map<string, Trainee>();

  private constructor(
    private readonly bundle: OpenBundle,
    private readonly staging: Staging,
    private readonly place: Place,
    /** Names of what is here and made ready. */
    private readonly names: Set<string>,
    private readonly trainees: readonly Trainee[],
  ) {}

  /**
   * Takes in all of a bundle, or nothing.
   *
   * @param now ms since 1970
   * @throws {BundleRefused}
   * @throws {ChangedHere}
   */
  static async takeIn(
    bundle: OpenBundle,
    staging: Staging,
    place: Place,
    now: number,
    onAttempt: () => void,
  ): Promise<TakenIn> {
    const { rehearsals, people, skills } = place;
    const { trainees } = await people.read();
    const taking = new TakingIn(bundle, staging, place, new Set(await rehearsals.ids()), trainees);
    const became = bundle.manifest.skills.flatMap((carried) => {
      const how = becameOf(carried, skills.library);
      return how ? [{ id: carried.id, version: carried.version, became: how, carried }] : [];
    });
    for (const attempt of bundle.manifest.attempts) {
      await taking.makeReady(attempt, now);
      onAttempt();
    }
    const added = {
      people: [...taking.missing.values()],
      skills: became.filter((each) => each.became === 'kept as a version').map(({ carried }) => carried),
    };
    const ids = await rehearsals.hold([...taking.replaced.keys()].sort(), async () => {
      for (const [id, changedAt] of taking.replaced) await taking.checkUnchanged(id, changedAt, now);
      await staging.settle(added);
      return staging.place(place);
    });
    return {
      attempts: taking.attempts.map((each) => ({ ...each, id: ids.get(each.id ?? '') ?? each.id })),
      people: added.people.map(({ name }) => name),
      skills: became.map(({ id, version, became: how }) => ({ id, version, became: how })),
    };
  }

  private async makeReady(attempt: CarriedAttempt, now: number): Promise<void> {
    const { record, keepUntil, trainee } = attempt;
    const journal = await this.bundle.read(entryOf(record, 'journal.jsonl'));
    const header = checkAttempt(attempt, journal);
    const here = this.trainees.find(({ id }) => id === trainee?.id) ?? trainee;
    const mayKeepSound = !header.trainee || (here !== null && decisionOf(here) === true);
    if (keepUntil !== null && Date.parse(keepUntil) <= now) {
      await this.passOver(attempt);
      this.attempts.push({ record, id: null, became: 'its time is over', withoutSound: false });
      return;
    }
    const coming: Coming = { attempt, header, journal, mayKeepSound };
    const counterpart = await this.counterpartOf(coming);
    const outcome = counterpart ? await this.addTo(counterpart, coming) : await this.addWhole(coming);
    this.attempts.push(outcome);
    const isNew = outcome.became === 'new' || outcome.became === 'beside another';
    if (isNew && trainee && here === trainee) this.missing.set(trainee.id, trainee);
  }

  /** The rehearsal here that has the most in common with a journal; null where none is the same. */
  private async counterpartOf({ header, journal }: Coming): Promise<Counterpart | null> {
    const name = nameFrom(header);
    const first = journal.subarray(0, journal.indexOf(NEWLINE) + 1);
    const found: Counterpart[] = [];
    for (const id of this.names) {
      if (!id.startsWith(name) || this.used.has(id)) continue;
      const folder = path.join(this.place.rehearsals.root, id);
      if (!(await firstLine(folder)).equals(first)) continue;
      const stat = await statOf(path.join(folder, JOURNAL_FILE));
      const comparison = compareJournals(await readJournalBytes(folder), journal);
      if (comparison.is !== 'other') found.push({ id, comparison, changedAt: stat?.changedAt ?? 0 });
    }
    const best = (is: Comparison['is']): Counterpart | undefined =>
      found.find(({ comparison }) => comparison.is === is);
    return best('same') ?? best('longer') ?? best('reviewed') ?? null;
  }

  private async addTo(
    { id, comparison, changedAt }: Counterpart,
    { attempt, header, mayKeepSound }: Coming,
  ): Promise<Outcome> {
    const { record } = attempt;
    this.used.add(id);
    if (comparison.is === 'same' || comparison.is === 'other') {
      await this.passOver(attempt);
      return { record, id, became: 'already here', withoutSound: false };
    }
    const folder = await this.staging.parts(id);
    await writeFlushed(path.join(folder, JOURNAL_FILE), comparison.journal, 'wx');
    this.replaced.set(id, changedAt);
    const wentOn = comparison.is === 'longer' && !comparison.isOnlyReviewed;
    const withoutSound = await this.addSound(folder, attempt, mayKeepSound && wentOn, id);
    await dateFiles(folder, header.startedAt);
    const became = comparison.is === 'longer' ? 'longer' : 'reviews added';
    return { record, id, became, withoutSound: wentOn && withoutSound };
  }

  private async addWhole({ attempt, header, journal, mayKeepSound }: Coming): Promise<Outcome> {
    const { record, keepUntil } = attempt;
    const name = nameFrom(header);
    let id = record;
    for (let n = 2; this.names.has(id); n++) id = `${name}-${n}`;
    this.names.add(id);
    this.used.add(id);
    const folder = await this.staging.whole(id);
    const whole = journal.subarray(0, journal.lastIndexOf(NEWLINE) + 1);
    await writeFlushed(path.join(folder, JOURNAL_FILE), whole, 'wx');
    if (keepUntil !== null) await writeFlushed(path.join(folder, KEEP_UNTIL_FILE), keepUntil, 'wx');
    // Nobody has its token: who goes on with it takes it over.
    await writeFlushed(path.join(folder, WRITER_FILE), newWriter().mark, 'wx');
    const withoutSound = await this.addSound(folder, attempt, mayKeepSound);
    await dateFiles(folder, header.startedAt);
    return { record, id, became: id === record ? 'new' : 'beside another', withoutSound };
  }

  /**
   * Adds the sound of an attempt, if it may be kept; it is checked all the same. Tells whether there was some that was left out.
   *
   * @param id of the rehearsal here that it may replace the sound of, where it has more of it
   */
  private async addSound(
    folder: string,
    { record, files }: CarriedAttempt,
    mayKeep: boolean,
    id?: string,
  ): Promise<boolean> {
    const sound = files.find((file) => file.path !== 'journal.jsonl');
    if (!sound) return false;
    const entry = entryOf(record, sound.path);
    if (!mayKeep) {
      await this.bundle.check(entry);
      return true;
    }
    const file = path.join(folder, sound.path);
    await writeStream(file, this.bundle.stream(entry));
    await checkSound(file, record);
    if (id !== undefined) {
      const here = await samplesOf(path.join(this.place.rehearsals.root, id));
      if (here >= (await samplesOf(folder))) await rm(file);
    }
    return false;
  }

  /** Checks what is not kept: a bundle is right as a whole, or not taken. */
  private async passOver({ record, files }: CarriedAttempt): Promise<void> {
    for (const file of files) await this.bundle.check(entryOf(record, file.path));
  }

  private async checkUnchanged(id: string, changedAt: number, now: number): Promise<void> {
    const { rehearsals } = this.place;
    const stat = await statOf(path.join(rehearsals.root, id, JOURNAL_FILE));
    if (stat?.changedAt !== changedAt || (await rehearsals.isLive(id, now))) throw new ChangedHere(id);
  }
}

/** @throws {BundleRefused} it does not begin as sound that is kept here */
async function checkSound(file: string, record: string): Promise<void> {
  const handle = await open(file);
  try {
    const { buffer } = await handle.read(Buffer.alloc(HEADER_BYTES), 0, HEADER_BYTES, 0);
    const info = streamInfo(buffer);
    const isOurs =
      path.basename(file) === PACKED_FILE
        ? info?.rate === SOUND_RATE &&
          info.channels === 1 &&
          info.bits === 16 &&
          info.samples <= MOST_SOUND / 2
        : buffer.toString('latin1', 0, 4) === 'RIFF' && buffer.toString('latin1', 8, 15) === 'WAVEfmt';
    if (!isOurs) throw new BundleRefused('bad attempt', `${record}: its sound is of another kind`);
  } finally {
    await handle.close();
  }
}
