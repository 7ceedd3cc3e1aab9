import type { Manifest } from '../bundle/manifest.ts';
import { openBundle } from '../bundle/read.ts';
import { writeBundle } from '../bundle/write.ts';
import { ownSkills } from './carriedSkills.ts';
import { Gathering, wantedIds, type Wanted } from './gather.ts';
import { placeSettled, Staging, type Place } from './staging.ts';
import { TakingIn } from './takeIn.ts';
import type { TakenIn } from './takenIn.ts';

/** What was made. */
export interface Made {
  readonly manifest: Manifest;
  readonly leftOut: Gathering['leftOut'];
}

/** Carries rehearsals from one machine to another: makes bundles, and takes them in, one after the other. */
export class Carrier {
  private turn: Promise<unknown> = Promise.resolve();

  /** @param now ms since 1970 */
  constructor(
    private readonly place: Place,
    private readonly now: () => number = Date.now,
  ) {}

  /** How many rehearsals there are of the wanted ones. */
  async count(wanted: Wanted): Promise<number> {
    return (await wantedIds(wanted, this.place.rehearsals, this.place.people)).length;
  }

  /**
   * Writes rehearsals into one file.
   *
   * @param onAttempt hears of each that is ready
   * @throws {ChangedMeanwhile} no file was made
   */
  async make(file: string, wanted: Wanted, onAttempt: () => void = () => undefined): Promise<Made> {
    const { rehearsals, people, skills } = this.place;
    const gathering = new Gathering(rehearsals, people, this.now());
    const attempts = [];
    for await (const attempt of gathering.attempts(await wantedIds(wanted, rehearsals, people))) {
      attempts.push(attempt);
      onAttempt();
    }
    const own = await ownSkills(skills, gathering.markedUnder);
    const manifest = await writeBundle(file, attempts, own, this.now());
    return { manifest, leftOut: gathering.leftOut };
  }

  /**
   * Takes in all of a bundle, or nothing.
   *
   * @param onAttempt hears of each that is ready
   * @throws {BundleRefused}
   * @throws {ChangedHere}
   */
  takeIn(file: string, onAttempt: () => void = () => undefined): Promise<TakenIn> {
    return this.inTurn(async () => {
      const bundle = await openBundle(file);
      const staging = await Staging.begin(this.place.rehearsals.root);
      try {
        return await TakingIn.takeIn(bundle, staging, this.place, this.now(), onAttempt);
      } finally {
        await staging.discard();
        await bundle.close();
      }
    });
  }

  /** Goes on with what was being taken in when the program was stopped. Nothing else may be using the rehearsals. */
  goOn(): Promise<void> {
    return this.inTurn(() => placeSettled(this.place));
  }

  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}
