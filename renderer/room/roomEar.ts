import { messageOf } from '../../app/faults/faults.ts';
import { BENCH_PHRASES } from '../../app/bench/resident/sayings.ts';
import type { Settings } from '../../app/host/api.ts';
import { COMMAND_PHRASES } from '../../app/language/commands.ts';
import type { Utterance } from '../../app/language/utterance.ts';
import { ContinuedListener } from '../../app/listening/continued.ts';
import type { ListenerEvent, Vocabulary } from '../../app/listening/listener.ts';
import { vocabularyOf } from '../../app/skills/checklist.ts';
import type { Run } from '../../app/run/run.ts';
import type { RunState } from '../../app/run/runState.ts';
import type { Lexicon } from '../../app/skills/skill.ts';
import { openEar, type Ear } from './ear.ts';
import type { RoomMicrophone } from './roomMicrophone.ts';
import type { Shown } from './shown.ts';
import { troubleOf } from './troubles.ts';

/** Seconds within which a saying is recognised by a machine that has caught up again. */
export const CAUGHT_UP = 3;

export interface RoomEarOptions {
  readonly run: Run;
  readonly shown: Shown;
  readonly settings: Settings;
  readonly lexicon: Lexicon;
  readonly microphone: RoomMicrophone;
}

/** What the room hears with: the ear that the settings ask for, on the time of the recording. Hands what it hears to the run. */
export class RoomEar {
  private ear: Ear | null = null;
  private listener: ContinuedListener | null = null;
  private closed = false;
  private noticed: number;
  private allKnown = true;
  /** The skill whose steps the judge is asked about. */
  private judgedFor: string;

  constructor(private readonly options: RoomEarOptions) {
    this.noticed = options.microphone.now;
    this.judgedFor = options.run.checklist.skill.id;
  }

  /** When speech was last noticed, whether or not its words are known yet; seconds of the recording. */
  get lastSpeech(): number {
    return this.noticed;
  }

  /** Whether speech was noticed whose words are not known yet. */
  get isHearing(): boolean {
    return !this.allKnown;
  }

  /** Engine and model, as records name them. */
  get name(): string {
    return this.ear?.name ?? 'unknown';
  }

  /** Begins to listen. Answers whether there is an ear; the trouble is shown where there is none. */
  async open(): Promise<boolean> {
    const { run, shown, settings, microphone } = this.options;
    try {
      this.ear = await openEar(settings);
    } catch (error) {
      shown.addTrouble(troubleOf('model', messageOf(error)));
      return false;
    }
    if (this.closed) return false;
    const offset = { seconds: microphone.now, ids: freeId(run.soFar) };
    this.listener = new ContinuedListener(this.ear.listener, (event) => this.take(event), offset);
    this.ear.onEvent = this.listener.take;
    await this.listener.start(this.vocabulary);
    return true;
  }

  /** Another skill is open: its words are likely now, and the judge is asked about its steps once it knows them. */
  expectSkill(): void {
    const { id } = this.options.run.checklist.skill;
    void this.listener?.expect(this.vocabulary).then(() => (this.judgedFor = id));
  }

  feed(samples: Float32Array): void {
    this.listener?.feed(samples).catch((error: unknown) => {
      this.options.shown.addTrouble(troubleOf('engine', messageOf(error)));
    });
  }

  /** Resolves once all that was said so far is known; null while nothing can be heard yet. */
  caughtUp(): Promise<void> | null {
    return this.listener?.feed(new Float32Array(0)) ?? null;
  }

  async pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    return (await this.listener?.pinpoint(utterance, wanted)) ?? utterance;
  }

  /** Ends the listening: what is being said is recognised first. */
  async stop(): Promise<void> {
    await this.listener?.stop();
  }

  /** Hears nothing from now on: the next room may listen with the same ear at once. */
  close(): void {
    this.closed = true;
    if (this.ear) this.ear.onEvent = () => undefined;
  }

  private get vocabulary(): Vocabulary {
    const { run, settings, lexicon } = this.options;
    const { checklist } = run;
    const measure = settings.resident.kind === 'none' ? undefined : checklist.skill.bench;
    const phrases = [
      ...vocabularyOf(checklist, lexicon),
      ...COMMAND_PHRASES,
      ...(measure ? BENCH_PHRASES[measure] : []),
    ];
    return { phrases, steps: checklist.steps };
  }

  private take(event: ListenerEvent): void {
    const { run, shown, microphone } = this.options;
    switch (event.type) {
      case 'speech':
        this.noticed = event.at;
        this.allKnown = false;
        return;
      case 'partial':
        shown.change({ partial: event.text });
        void run.partial(event, this.judgedFor);
        return;
      case 'utterance':
        this.allKnown = true;
        shown.change({ partial: '' });
        if (microphone.now - event.utterance.end < CAUGHT_UP) shown.removeTroubles('behind', 'restarted');
        void run.hear(event.utterance, this.judgedFor);
        return;
      case 'trouble': {
        const { kind, message } = event.trouble;
        shown.addTrouble(troubleOf(kind, kind === 'behind' ? '' : message));
      }
    }
  }
}

/** The id of the next utterance. */
const freeId = ({ runs }: RunState): number =>
  1 +
  Math.max(
    -1,
    ...runs.flatMap(({ state: { utterances, asides } }) => [
      ...utterances.map(({ id }) => id),
      ...asides.map(({ utterance }) => utterance.id),
    ]),
  );
