import type { RehearsalEvent } from '../../app/marking/events.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { HostFailed } from '../api.ts';

/** The world outside, passed in so that tests can stand in for it. */
export interface KeeperEffects {
  /** Keeps events; `from` is the index of the first. Sending the same ones twice does no harm. Throws when not kept. */
  readonly sendEvents: (from: number, events: readonly RehearsalEvent[]) => Promise<void>;
  /** Keeps 16-bit sound; `from` is the index of its first sample. Sending the same twice does no harm. */
  readonly sendSound: (from: number, samples: Int16Array<ArrayBuffer>) => Promise<void>;
  /**
   * Called where another window has gone on with the rehearsal: begins one of its own with what was kept of this one. All that
   * is sent afterwards goes there.
   */
  readonly startOwn: (kept: { readonly events: number; readonly samples: number }) => Promise<void>;
  readonly wait: (milliseconds: number) => Promise<void>;
}

/** Samples sent at once at the least: half a second, so that a killed window loses less than a second. */
const LEAST_SOUND = 8000;
/** And at the most, so that no body is refused after a long time away: half a minute. */
const MOST_SOUND = 480_000;
/** Events sent at once at the most. */
const MOST_EVENTS = 500;
/** How long to wait before trying again, ms. Short: the journal is what a crash leaves. */
const RETRY_AFTER = 1000;

/**
 * Brings a rehearsal's events and sound to disk, in order, from when it is opened: a room that is left before anything was
 * said leaves no record. What cannot be sent stays in memory and is tried again for as long as it takes; what is refused because
 * another window writes the rehearsal goes into one of its own.
 */
export class Keeper {
  private events: RehearsalEvent[] = [];
  private sentEvents: number;
  private sound: Int16Array<ArrayBuffer>[] = [];
  /** Sound joined to be sent, until it is kept: what is tried again is not copied again. */
  private joined: Int16Array<ArrayBuffer> | null = null;
  /** Samples of both. */
  private pendingSamples = 0;
  private sentSamples: number;
  private finishing = false;
  private held = true;
  private pumping: Promise<void> | null = null;

  /**
   * @param onTrouble told why nothing can be kept just now, and null when it can again
   * @param kept how many events and samples of this rehearsal are kept already
   */
  constructor(
    private readonly effects: KeeperEffects,
    private readonly onTrouble: (message: string | null) => void = () => undefined,
    kept: { readonly events: number; readonly samples: number } = { events: 0, samples: 0 },
  ) {
    this.sentEvents = kept.events;
    this.sentSamples = kept.samples;
  }

  /** From now on what is taken in is sent, and what was taken in before. */
  open(): void {
    if (!this.held) return;
    this.held = false;
    this.pump();
  }

  keepEvents(events: readonly RehearsalEvent[]): void {
    this.events.push(...events);
    this.pump();
  }

  /** @param samples −1…1 */
  keepSound(samples: Float32Array): void {
    this.sound.push(Int16Array.from(samples, (x) => Math.round(Math.max(-1, Math.min(1, x)) * 32767)));
    this.pendingSamples += samples.length;
    this.pump();
  }

  /** Resolves when everything taken in so far is kept. */
  async finish(): Promise<void> {
    this.finishing = true;
    this.pump();
    await this.pumping;
    this.finishing = false;
  }

  private get hasWork(): boolean {
    const least = this.finishing ? 1 : LEAST_SOUND;
    return this.events.length > 0 || this.pendingSamples >= least;
  }

  private pump(): void {
    if (this.held || this.pumping || !this.hasWork) return;
    this.pumping = this.work().finally(() => {
      this.pumping = null;
    });
  }

  private async work(): Promise<void> {
    let failed = false;
    while (this.hasWork) {
      try {
        await this.sendOrMove();
        if (failed) this.onTrouble(null);
        failed = false;
      } catch (error) {
        failed = true;
        this.onTrouble(messageOf(error));
        await this.effects.wait(RETRY_AFTER);
      }
    }
  }

  /** Events go first: the marks are made of them. */
  private async sendSome(): Promise<void> {
    if (this.events.length > 0) {
      const batch = this.events.slice(0, MOST_EVENTS);
      await this.effects.sendEvents(this.sentEvents, batch);
      this.events.splice(0, batch.length);
      this.sentEvents += batch.length;
      return;
    }
    this.joined ??= this.joinSound();
    const { length } = this.joined;
    await this.effects.sendSound(this.sentSamples, this.joined);
    this.joined = null;
    this.sentSamples += length;
    this.pendingSamples -= length;
  }

  private async sendOrMove(): Promise<void> {
    try {
      await this.sendSome();
    } catch (error) {
      if (!(error instanceof HostFailed && error.conflict)) throw error;
      await this.effects.startOwn({ events: this.sentEvents, samples: this.sentSamples });
    }
  }

  /** Takes out of what is waiting as much as may be sent at once. */
  private joinSound(): Int16Array<ArrayBuffer> {
    // There is sound waiting when this is called.
    const first = this.sound[0]!;
    if (first.length > MOST_SOUND) {
      this.sound[0] = first.subarray(MOST_SOUND);
      return first.subarray(0, MOST_SOUND);
    }
    let count = 0;
    let length = 0;
    for (const piece of this.sound) {
      if (length + piece.length > MOST_SOUND) break;
      length += piece.length;
      count++;
    }
    const joined = new Int16Array(length);
    let at = 0;
    for (const piece of this.sound.splice(0, count)) {
      joined.set(piece, at);
      at += piece.length;
    }
    return joined;
  }
}
