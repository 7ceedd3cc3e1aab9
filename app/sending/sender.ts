import { messageOf } from '../faults/faults.ts';
import { archiveAt, enrolAt, KeyRefused, type Archive } from './archiveClient.ts';
import { archiveAddress, EnrolmentFile } from './enrolment.ts';
import { outboxOf, QUIET } from './outbox.ts';
import { waitAfter } from './retry.ts';
import { sendRound, type Round, type Station } from './round.ts';
import { SentLog } from './sentLog.ts';
import type { SendingStanding } from './standing.ts';

/** The station that a sender sends for: all but its log, which is opened by the sender. */
export type StationWithoutLog = Omit<Station, 'log'> & {
  /** Begins, or ends, noting what is deleted. */
  noteGone(on: boolean): Promise<void>;
  /** Clears away files that a round which was broken off has left. */
  tidy(): Promise<void>;
};

/** How often the archive is asked what it wants, ms. */
const CONTACT_EVERY = 10 * 60_000;
/** After the program has started, ms: it has other things to do first. */
const AFTER_START = 10_000;

/** What lies outside, passed in so that tests can stand in for it. */
export interface SendingEffects {
  readonly connect: (address: string, key: string, signal: AbortSignal) => Archive;
  /** Hears what went wrong that nobody asked about. */
  readonly warn: (message: string) => void;
  /** 0 to 1. */
  readonly random: () => number;
}
export const REAL_EFFECTS: Omit<SendingEffects, 'warn'> = { connect: archiveAt, random: Math.random };

/**
 * Sends the rehearsals of this station to its school's archive, in rounds that follow one another. While no archive is set it does
 * nothing at all.
 */
export class Sender {
  private readonly file: EnrolmentFile;
  private timer: NodeJS.Timeout | undefined;
  /** When the timer ends, ms since 1970; null where none runs. */
  private nextAt: number | null = null;
  private isStarted = false;
  /** The round of the timer's that is going on; null for none. */
  private going: Promise<void> | null = null;
  private readonly stopping = new AbortController();
  /** Rounds follow one another, and what changes the enrolment comes between them. */
  private turn: Promise<unknown> = Promise.resolve();
  private failures = 0;
  private trouble: string | null = null;
  private lastContactAt: string | null = null;

  constructor(
    private readonly data: string,
    private readonly station: StationWithoutLog,
    private readonly effects: SendingEffects,
  ) {
    this.file = new EnrolmentFile(data);
  }

  /** Begins to send in the background. */
  start(): void {
    this.isStarted = true;
    this.wakeIn(AFTER_START);
  }

  /** Ends what is going on; nothing is sent afterwards. */
  async stop(): Promise<void> {
    this.isStarted = false;
    this.sleep();
    this.stopping.abort();
    await this.settled();
  }

  /** Waits until no round is going on. */
  async settled(): Promise<void> {
    await this.going;
    await this.turn;
  }

  /** Rehearsals are being changed: the next round waits until that is over for a while. Cheap enough for every change. */
  changed(): void {
    if (this.nextAt !== null && this.failures === 0) this.wakeIn(QUIET);
  }

  /**
   * Does a round now; again: also with what the archive refused. Throws as {@link sendRound} does.
   *
   * @returns null where no archive is set, or sending is turned off
   */
  sendNow({ again = false } = {}): Promise<Round | null> {
    return this.inTurn(() => this.round(again));
  }

  /**
   * Enrols this station by a code of the school's and turns sending on. The key of an archive before is forgotten.
   *
   * @param typed the archive's address
   * @throws {BadAddress}
   * @throws {ArchiveAway}
   * @throws {ArchiveRefused}
   */
  enrol(typed: string, code: string): Promise<void> {
    const address = archiveAddress(typed);
    return this.inTurn(async () => {
      const before = await this.file.read().catch(() => null);
      const { station, school, key } = await enrolAt(address, code);
      // What another archive has acknowledged says nothing of this one.
      if (before?.address !== address || before.school !== school) await SentLog.remove(this.data);
      await this.station.noteGone(true);
      const enrolledAt = new Date(this.station.now()).toISOString();
      await this.file.write({ address, school, station, key, enrolledAt, isOn: true, revoked: null });
      this.forgetTrouble();
      this.wakeIn(0);
    });
  }

  /** Turns sending on or off; what is deleted meanwhile is told when it is on again. */
  setOn(isOn: boolean): Promise<void> {
    return this.inTurn(async () => {
      const enrolment = await this.file.read();
      if (!enrolment) return;
      await this.file.write({ ...enrolment, isOn });
      this.forgetTrouble();
      this.wakeIn(0);
    });
  }

  /** Forgets the archive and the key. What the archive has stays there. */
  leave(): Promise<void> {
    return this.inTurn(async () => {
      this.sleep();
      await this.file.remove();
      await SentLog.remove(this.data);
      await this.station.noteGone(false);
      this.forgetTrouble();
    });
  }

  /** The school whose archive this station sends to; null for none, and while sending is turned off. */
  async school(): Promise<string | null> {
    const enrolment = await this.file.read();
    if (!enrolment?.isOn) return null;
    // Another program, such as the terminal's, has enrolled this station since the last round.
    if (this.isStarted && this.nextAt === null && this.going === null && enrolment.revoked === null)
      this.wakeIn(0);
    return enrolment.school;
  }

  /** How it stands; null where no archive is set. */
  async standing(): Promise<SendingStanding | null> {
    const enrolment = await this.file.read();
    if (!enrolment) return null;
    const { address, school, station, enrolledAt, isOn, revoked } = enrolment;
    const log = await SentLog.open(this.data);
    const of = log.of.bind(log);
    const outbox = outboxOf(await this.station.here(), await this.station.trainees(), of, this.station.now());
    const acknowledged = log.all().filter(({ refused }) => refused === undefined);
    return {
      address,
      school,
      station: station.name,
      enrolledAt,
      isOn,
      revoked,
      waiting: outbox.due.length + outbox.settling.length,
      staying: outbox.staying,
      sent: acknowledged.length,
      lastSentAt: acknowledged
        .map(({ at }) => at)
        .reduce<string | null>((a, b) => (a && a > b ? a : b), null),
      lastContactAt: this.lastContactAt,
      refused: outbox.refused.map(({ record, at, refused = '' }) => ({ record, at, why: refused })),
      trouble: this.trouble,
      nextAt: this.nextAt === null ? null : new Date(this.nextAt).toISOString(),
    };
  }

  private async round(again: boolean): Promise<Round | null> {
    const enrolment = await this.file.read();
    if (!enrolment?.isOn || (enrolment.revoked !== null && !again)) return null;
    const { signal } = this.stopping;
    const log = await SentLog.open(this.data);
    if (again)
      for (const { record, refused } of log.all()) if (refused !== undefined) await log.forget(record);
    await this.station.tidy();
    const archive = this.effects.connect(enrolment.address, enrolment.key, signal);
    try {
      const round = await sendRound({ ...this.station, log }, archive, signal);
      this.lastContactAt = new Date(this.station.now()).toISOString();
      this.forgetTrouble();
      if (enrolment.revoked !== null) await this.file.write({ ...enrolment, revoked: null });
      return round;
    } catch (error) {
      if (error instanceof KeyRefused) {
        this.sleep();
        await this.file.write({ ...enrolment, revoked: error.message });
      }
      throw error;
    }
  }

  /** A round of the timer's: what goes wrong is told, and tried again later. */
  private async roundInTurn(): Promise<void> {
    let next: number | null = CONTACT_EVERY;
    try {
      const round = await this.sendNow();
      if (round === null) next = null;
      else if (round.nextDue !== null)
        next = Math.min(next, Math.max(1000, round.nextDue - this.station.now()));
    } catch (error) {
      if (this.stopping.signal.aborted) return;
      next = error instanceof KeyRefused ? null : this.waitAfterFailure(messageOf(error));
    }
    if (next !== null) this.wakeIn(next);
  }

  private waitAfterFailure(trouble: string): number {
    if (this.trouble !== trouble) this.effects.warn(`Nothing was sent to the archive: ${trouble}`);
    this.trouble = trouble;
    this.failures += 1;
    return waitAfter(this.failures, this.effects.random());
  }

  private forgetTrouble(): void {
    this.failures = 0;
    this.trouble = null;
  }

  /** Does a round after so many ms, instead of when it was to be. */
  private wakeIn(ms: number): void {
    this.sleep();
    if (!this.isStarted) return;
    this.nextAt = this.station.now() + ms;
    this.timer = setTimeout(() => {
      this.nextAt = null;
      this.going = this.roundInTurn().finally(() => (this.going = null));
    }, ms);
    this.timer.unref();
  }

  private sleep(): void {
    clearTimeout(this.timer);
    this.nextAt = null;
  }

  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.turn.then(work, work);
    this.turn = turn.catch(() => undefined);
    return turn;
  }
}
