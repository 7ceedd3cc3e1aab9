import type { CopyFirst, Rehearsal, Settings } from '../../app/host/api.ts';
import { loudnessIn } from '../../app/loudness/voiceOverNoise.ts';
import { LoudnessWatch } from '../../app/loudness/watch.ts';
import type { Loudness, RehearsalEvent } from '../../app/marking/events.ts';
import type { TestPlan } from '../../app/run/testPlan.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import type { Lexicon } from '../../app/skills/skill.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { api } from '../api.ts';
import { Keeper } from './keeper.ts';
import type { Shown } from '../room/shown.ts';
import { troubleOf } from '../room/troubles.ts';

/** What is rehearsed, and how. */
export interface Plan {
  readonly checklist: Checklist;
  /** The whole mock test that begins with the checklist; null for a rehearsal of one skill. */
  readonly test: TestPlan | null;
  readonly lexicon: Lexicon;
  readonly settings: Settings;
  /** Steps to rehearse; null for the whole skill. */
  readonly only: ReadonlySet<string> | null;
  /** Who rehearses. */
  readonly by: Rehearser;
  /** The rehearsal that is gone on with, which was broken off; null for a new one. */
  readonly past: PastRehearsal | null;
}

/** Who rehearses, and whether sound of it may be kept. */
export interface Rehearser {
  /** Id; null for nobody in particular. */
  readonly trainee: string | null;
  readonly keepsSound: boolean;
}

/** A rehearsal that was broken off, as the host keeps it; `samples` is how long it was, also where none are kept. */
export interface PastRehearsal extends Pick<Rehearsal, 'events' | 'kept' | 'samples'> {
  readonly id: string;
}

/** The rehearsal as it goes to disk: its events and sound, and how loud its stretches were. */
export class RehearsalRecord {
  /** What the watch has told, of a rehearsal that was gone on with also before. */
  readonly loudness: Loudness[];
  private readonly keeper: Keeper;
  private readonly watch: LoudnessWatch;
  private creating: Promise<string> | null;
  private kept: string | null;

  /**
   * @param engine what listens, as records name it; asked when the record is made
   * @param onOwn another window has gone on with this rehearsal, which is kept as one of its own from here on
   */
  constructor(
    private readonly plan: Plan,
    private readonly engine: () => string,
    shown: Shown,
    private readonly onOwn: () => void,
  ) {
    const { past } = plan;
    this.loudness = loudnessIn(past?.events ?? []);
    this.watch = new LoudnessWatch((past?.samples ?? 0) / SAMPLE_RATE);
    this.kept = past?.id ?? null;
    this.creating = past && Promise.resolve(past.id);
    this.keeper = new Keeper(
      {
        sendEvents: async (from, events) => api.sendEvents(await this.create(), from, events),
        sendSound: async (from, samples) => api.sendSound(await this.create(), from, samples),
        startOwn: (kept) => this.startOwn(kept),
        wait: (milliseconds) => new Promise((done) => setTimeout(done, milliseconds)),
      },
      (message) =>
        message === null ? shown.removeTroubles('host') : shown.addTrouble(troubleOf('host', message)),
      past ? { events: past.kept, samples: past.samples } : undefined,
    );
    if (past) this.keeper.open();
  }

  /** Id the host keeps it under; null when it is not kept (yet). */
  get id(): string | null {
    return this.kept;
  }

  /** From now on there is something worth keeping. */
  open(): void {
    this.keeper.open();
  }

  keepEvents(events: readonly RehearsalEvent[]): void {
    this.keeper.keepEvents(events);
    this.keepLoudness(this.watch.take(events));
  }

  /** @param samples −1…1 at 16 kHz */
  keepSound(samples: Float32Array): void {
    if (this.plan.by.keepsSound) this.keeper.keepSound(samples);
    this.watch.feed(samples);
  }

  /** Nothing more is heard: keeps how loud the rest was. */
  end(): void {
    this.keepLoudness(this.watch.end());
  }

  /** Resolves when everything taken in so far is kept. */
  finish(): Promise<void> {
    return this.keeper.finish();
  }

  /** How loud it was is a fact of the recording: the run need not know it. */
  private keepLoudness(loudness: readonly Loudness[]): void {
    if (loudness.length === 0) return;
    this.loudness.push(...loudness);
    this.keeper.keepEvents(loudness);
  }

  /** Another window has gone on with this rehearsal: from here on it is one of its own. */
  private async startOwn(kept: CopyFirst): Promise<void> {
    const id = await api.copyFirst(await this.create(), {
      ...kept,
      ...(!this.plan.by.keepsSound && { samples: 0 }),
    });
    this.kept = id;
    this.creating = Promise.resolve(id);
    this.onOwn();
  }

  private create(): Promise<string> {
    const { checklist, test, settings, only, by } = this.plan;
    this.creating ??= api
      .create({
        skill: checklist.skill.id,
        variants: { ...checklist.variants },
        // A test is of several skills, each of a version of its own.
        ...(test ? { form: test.form } : { version: checklist.skill.version }),
        style: settings.style,
        engine: this.engine(),
        startedAt: new Date().toISOString(),
        trainee: by.trainee,
        ...(only !== null && { only: [...only] }),
      })
      .then((id) => (this.kept = id))
      .catch((error: unknown) => {
        this.creating = null;
        throw error;
      });
    return this.creating;
  }
}
