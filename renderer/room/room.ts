import { ContinuedListener } from '../../app/listening/continued.ts';
import type { ListenerEvent, Vocabulary } from '../../app/listening/listener.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { openMicrophone, type Microphone } from '../../app/sound/microphone.ts';
import { brokenOff, openingOf, Session, type Pinpoint } from '../../app/run/session.ts';
import { TestSession } from '../../app/run/testSession.ts';
import { DEAD_BELOW, levelOf, type Level } from '../../app/loudness/soundCheck.ts';
import { checkOf } from '../../app/loudness/checkedMicrophones.ts';
import { loudnessIn } from '../../app/loudness/voiceOverNoise.ts';
import { LoudnessWatch } from '../../app/loudness/watch.ts';
import { vocabularyOf, type Checklist } from '../../app/skills/checklist.ts';
import { nudge, replyTo, timeCall } from '../../app/run/coach.ts';
import { COMMAND_PHRASES, type Command } from '../../app/language/commands.ts';
import type { Loudness, RehearsalEvent } from '../../app/marking/events.ts';
import { clockEvents, type MockTest } from '../../app/run/mockTest.ts';
import type { Lexicon } from '../../app/skills/skill.ts';
import { BEFORE, fold, hasBegun, type State } from '../../app/marking/state.ts';
import { LONG_SILENCE, nudgeDue } from '../../app/run/talk.ts';
import type { TestPlan } from '../../app/run/testPlan.ts';
import type { Rehearsal, Settings } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { openEar, type Ear } from './ear.ts';
import { Earcons } from './earcons.ts';
import { Keeper } from './keeper.ts';
import { dialOf } from './roomView.ts';
import { earconFor } from './signals.ts';
import { microphoneTrouble, troubleOf, withoutTrouble, withTrouble, type Trouble } from './troubles.ts';
import { Voice } from './voice.ts';
import { messageOf } from '../../app/faults/faults.ts';

/** What is rehearsed, and how. */
export interface Plan {
  readonly checklist: Checklist;
  /** The whole mock test that begins with the checklist; null for a rehearsal of one skill. */
  readonly test: TestPlan | null;
  readonly lexicon: Lexicon;
  readonly settings: Settings;
  /** Steps to rehearse; null for the whole skill. */
  readonly only: ReadonlySet<string> | null;
  /** The rehearsal that is gone on with, which was broken off; null for a new one. */
  readonly past: PastRehearsal | null;
}

/** A rehearsal that was broken off, as the host keeps it. */
export interface PastRehearsal extends Pick<Rehearsal, 'events' | 'kept' | 'samples'> {
  readonly id: string;
}

/** A rehearsal that is over, as its End screen needs it. */
export interface Ended {
  /** Null when it was left before anything was heard. */
  readonly state: State | null;
  /** The whole mock test; null for a rehearsal of one skill. */
  readonly test: MockTest | null;
  /** Id the host keeps it under; null when it could not be kept (yet). */
  readonly id: string | null;
  /** How loud its stretches were. */
  readonly loudness: readonly Loudness[];
  /** What listened, as records name it. */
  readonly listening: string;
  /** The command that ended it. */
  readonly by: Command;
}

/** What the room's screen shows at a moment. */
export interface RoomShown {
  readonly phase: 'opening' | 'ready' | 'live' | 'ending';
  /** The skill that is open, and how many of a mock test's have been opened. */
  readonly checklist: Checklist;
  readonly opened: number;
  readonly state: State;
  /** Seconds of the recording. */
  readonly now: number;
  /** What is being said just now; empty in between. */
  readonly partial: string;
  /** What the coach said last; empty when that is a while ago. */
  readonly caption: string;
  readonly level: Level | null;
  /** Whether the microphone was never checked beside a tap. */
  readonly unchecked: boolean;
  readonly troubles: readonly Trouble[];
}

/** Seconds without any sound after which the trainee is told: longer than a held breath of the system's. */
const SILENT_AFTER = 4;
/** Seconds within which a saying is recognised by a machine that has caught up again. */
const CAUGHT_UP = 3;
/** Milliseconds between tries to open a microphone that is not there. */
const REOPEN_AFTER = 2000;
/** Seconds a caption stays on at the least, and a second more for so many characters: a slow reader's speed. */
const CAPTION_STAYS = 4;
const READ_PER_SECOND = 12;
/** Milliseconds the end waits for the record to be on disk; what is left goes on being sent. */
const KEEP_WITHIN = 2000;

/**
 * One rehearsal going on in this page: microphone → listener → session → marks, with the coach's voice and the record on
 * disk. Opens by itself; lives until `close`.
 */
export class Room {
  private readonly session: Session | TestSession;
  private readonly keeper: Keeper;
  private readonly voice: Voice;
  private readonly earcons: Earcons;
  private readonly watch: LoudnessWatch;
  /** What the watch has told, of a rehearsal that was gone on with also before. */
  private readonly loudness: Loudness[];
  private readonly listeners = new Set<() => void>();
  private readonly ticking: ReturnType<typeof setInterval>;
  private id: Promise<string> | null = null;
  private kept: string | null = null;
  private ear: Ear | null = null;
  private listener: ContinuedListener | null = null;
  private microphone: Microphone | null = null;
  private wakeLock: WakeLockSentinel | null | undefined = null;
  private opening = false;
  /** Samples of the recording so far. */
  private samples: number;
  /** When the last piece of sound came and when the last one with any energy, ms of the page's clock. */
  private lastPiece = performance.now();
  private lastEnergy = performance.now();
  private captionUntil = 0;
  /** When speech was last noticed, whether or not its words are known yet; seconds of the recording. */
  private lastSpeech = 0;
  /** Whether all speech that was noticed has been recognised. */
  private speechOver = true;
  /** Up to when calls of the time left have been looked for, seconds of the recording. */
  private called = 0;
  /** The step whose clock has been told to have run long enough. */
  private reachedStep: string | null = null;
  private keepingTime = false;
  private ended = false;
  private closed = false;
  private shown: RoomShown;

  constructor(
    readonly plan: Plan,
    private readonly onEnded: (ended: Ended) => void,
  ) {
    const { settings, checklist, past } = plan;
    this.samples = past?.samples ?? 0;
    this.lastSpeech = this.called = this.now;
    this.watch = new LoudnessWatch(this.now);
    this.loudness = loudnessIn(past?.events ?? []);
    if (past) {
      this.kept = past.id;
      this.id = Promise.resolve(past.id);
    }
    this.keeper = new Keeper(
      {
        sendEvents: async (from, events) => api.sendEvents(await this.create(), from, events),
        sendSound: async (from, samples) => api.sendSound(await this.create(), from, samples),
        startOwn: (kept) => this.startOwn(kept),
        wait: (milliseconds) => new Promise((done) => setTimeout(done, milliseconds)),
      },
      (message) =>
        this.setTroubles(
          message === null
            ? withoutTrouble(this.shown.troubles, 'host')
            : withTrouble(this.shown.troubles, troubleOf('host', message)),
        ),
      past ? { events: past.kept, samples: past.samples } : undefined,
    );
    this.earcons = new Earcons(settings.volume);
    this.voice = new Voice({
      now: () => this.now,
      aloud: settings.voice,
      volume: settings.volume,
      onCaption: (caption) => {
        this.captionUntil = performance.now() + 1000 * (CAPTION_STAYS + caption.length / READ_PER_SECOND);
        this.show({ caption });
      },
      onSpoke: (spoken) => {
        // A caption alone sounds like nothing. While the trainee is being heard it must not make an echo of their words.
        const written = spoken.from === spoken.to;
        if (!written || this.speechOver) void this.session.spoke(spoken);
      },
    });
    // The session tells of its beginning while it is being made.
    let took = (events: readonly RehearsalEvent[]): void => this.keeper.keepEvents(events);
    const pinpoint: Pinpoint = async (utterance, wanted) =>
      (await this.listener?.pinpoint(utterance, wanted)) ?? utterance;
    const onEvents = (events: readonly RehearsalEvent[]): void => took(events);
    const until = this.now;
    this.session = plan.test
      ? new TestSession(plan.test, pinpoint, onEvents, past && { events: past.events, until })
      : new Session(
          checklist,
          pinpoint,
          onEvents,
          past
            ? { state: past.events.reduce(fold, BEFORE), events: [brokenOff(until)] }
            : openingOf(checklist, settings.continued),
        );
    if (past) this.keeper.open();
    took = (events) => this.take(events);
    this.shown = {
      phase: 'opening',
      checklist: this.session.checklist,
      opened: this.opened,
      state: this.session.state,
      now: this.now,
      partial: '',
      caption: '',
      level: null,
      unchecked: false,
      troubles: [],
    };
    this.ticking = setInterval(() => this.tick(), 200);
    navigator.mediaDevices.addEventListener('devicechange', this.reopen);
    void this.open();
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.listeners.add(listener);
    return () => void this.listeners.delete(listener);
  };

  readonly snapshot = (): RoomShown => this.shown;

  /** Takes a command that was pressed. */
  press(command: Command): void {
    if (this.ended) return;
    const at = this.now;
    // What was said before a pause may stop a clock: it must be known before the pause is over.
    const known = command === 'go on' ? this.listener?.feed(new Float32Array(0)) : undefined;
    void Promise.resolve(known).then(() => this.session.command(command, at));
  }

  /** The one button: begins, pauses, goes on. */
  pressMain(): void {
    const { phase, state } = this.shown;
    if (state.paused !== null) this.press('go on');
    else if (phase === 'ready') this.press('begin');
    else if (phase === 'live') this.press('pause');
  }

  /** Sends what is not yet kept. */
  flush(): Promise<void> {
    return this.keeper.finish();
  }

  /** Gives everything back. What is not yet on disk goes on being sent. */
  async close(): Promise<void> {
    if (this.closed) return;
    this.closed = true;
    clearInterval(this.ticking);
    navigator.mediaDevices.removeEventListener('devicechange', this.reopen);
    this.voice.close();
    // Before anything is waited for: the next room may listen with the same ear at once.
    if (this.ear) this.ear.onEvent = () => undefined;
    await this.wakeLock?.release();
    await this.microphone?.close();
    await this.earcons.close();
    await this.keeper.finish();
  }

  /** Seconds of the recording: the sound so far, and what of the next piece has passed. */
  private get now(): number {
    const since = this.microphone ? Math.min(0.1, (performance.now() - this.lastPiece) / 1000) : 0;
    return this.samples / SAMPLE_RATE + since;
  }

  /** How many skills have been opened: 1 in a rehearsal of one. */
  private get opened(): number {
    return this.session instanceof TestSession ? this.session.test.runs.length : 1;
  }

  /** Of every skill opened. */
  private get states(): readonly State[] {
    const { session } = this;
    return session instanceof TestSession ? session.test.runs.map(({ state }) => state) : [session.state];
  }

  private vocabulary(): Vocabulary {
    const { checklist } = this.session;
    const phrases = [...vocabularyOf(checklist, this.plan.lexicon), ...COMMAND_PHRASES];
    return { phrases, steps: checklist.steps };
  }

  private create(): Promise<string> {
    const { checklist, test, settings, only } = this.plan;
    this.id ??= api
      .create({
        skill: checklist.skill.id,
        variants: { ...checklist.variants },
        // A test is of several skills, each of a version of its own.
        ...(test ? { form: test.form } : { version: checklist.skill.version }),
        style: settings.style,
        engine: this.ear?.name ?? 'unknown',
        startedAt: new Date().toISOString(),
        ...(only !== null && { only: [...only] }),
      })
      .then((id) => (this.kept = id))
      .catch((error: unknown) => {
        this.id = null;
        throw error;
      });
    return this.id;
  }

  /** Another window has gone on with this rehearsal: from here on it is one of its own. */
  private async startOwn(kept: { readonly events: number; readonly samples: number }): Promise<void> {
    const id = await api.copyFirst(await this.create(), kept);
    this.kept = id;
    this.id = Promise.resolve(id);
    void this.voice.say('Another window goes on with this rehearsal. What I hear is kept as one of its own.');
  }

  private async open(): Promise<void> {
    try {
      this.ear = await openEar(this.plan.settings);
    } catch (error) {
      this.setTroubles(withTrouble(this.shown.troubles, troubleOf('model', messageOf(error))));
      return;
    }
    if (this.closed) return;
    this.listener = new ContinuedListener(this.ear.listener, (event) => this.hear(event), {
      seconds: this.now,
      ids: freeId(this.states),
    });
    this.ear.onEvent = this.listener.take;
    await this.listener.start(this.vocabulary());
    // Nobody touches the machine for minutes: without this its screen goes dark. Where it cannot be had, it does.
    this.wakeLock = await navigator.wakeLock?.request('screen').catch(() => null);
    await this.openMicrophone();
  }

  private readonly reopen = (): void => {
    if (!this.microphone && this.ear) void this.openMicrophone();
  };

  private async openMicrophone(): Promise<void> {
    if (this.opening || this.closed || this.ended) return;
    this.opening = true;
    const { microphone: device, processing, checkedMicrophones } = this.plan.settings;
    try {
      const microphone = await openMicrophone((samples) => this.feed(samples), {
        device,
        processing,
        onChange: (change) => this.microphoneChanged(change),
      });
      if (this.closed || this.ended) return await microphone.close();
      this.microphone = microphone;
      this.show({ unchecked: checkOf(checkedMicrophones, microphone.label, device) === null });
      this.lastPiece = this.lastEnergy = performance.now();
      this.setTroubles(
        withoutTrouble(
          this.shown.troubles,
          'microphone refused',
          'microphone missing',
          'microphone taken',
          'microphone lost',
        ),
      );
      if (this.shown.phase === 'opening') {
        this.show({ phase: this.plan.past ? 'live' : 'ready' });
        this.greet();
      } else if (this.session.state.paused !== null) {
        void this.voice.say('The microphone is back. Say "go on".');
      }
    } catch (error) {
      this.setTroubles(withTrouble(this.shown.troubles, microphoneTrouble(error)));
      setTimeout(this.reopen, REOPEN_AFTER);
    } finally {
      this.opening = false;
    }
  }

  private microphoneChanged(change: 'ended' | 'muted' | 'unmuted'): void {
    if (change === 'unmuted') {
      this.setTroubles(withoutTrouble(this.shown.troubles, 'microphone taken'));
      return;
    }
    this.earcons.play('trouble');
    const kind = change === 'ended' ? 'microphone lost' : 'microphone taken';
    this.setTroubles(withTrouble(this.shown.troubles, troubleOf(kind)));
    // Nobody knows what is done while nothing is heard: clocks must not run on.
    if (this.shown.phase === 'live' && this.session.state.paused === null) this.press('pause');
    if (change === 'ended') {
      void this.microphone?.close();
      this.microphone = null;
      setTimeout(this.reopen, REOPEN_AFTER);
    }
  }

  private feed(samples: Float32Array): void {
    if (this.ended) return;
    this.samples += samples.length;
    this.lastPiece = performance.now();
    const level = levelOf(samples);
    if (level.peak >= DEAD_BELOW) {
      this.lastEnergy = this.lastPiece;
      this.setTroubles(withoutTrouble(this.shown.troubles, 'microphone silent'));
    }
    this.keeper.keepSound(samples);
    this.watch.feed(samples);
    this.listener?.feed(samples).catch((error: unknown) => {
      this.setTroubles(withTrouble(this.shown.troubles, troubleOf('engine', messageOf(error))));
    });
    this.show({ level, now: this.now });
  }

  private hear(event: ListenerEvent): void {
    switch (event.type) {
      case 'speech':
        this.lastSpeech = event.at;
        this.speechOver = false;
        return;
      case 'partial':
        this.show({ partial: event.text });
        void this.session.partial(event);
        return;
      case 'utterance':
        this.speechOver = true;
        this.show({ partial: '' });
        if (this.now - event.utterance.end < CAUGHT_UP)
          this.setTroubles(withoutTrouble(this.shown.troubles, 'behind', 'restarted'));
        void this.session.hear(event.utterance);
        return;
      case 'trouble': {
        const { kind, message } = event.trouble;
        this.setTroubles(withTrouble(this.shown.troubles, troubleOf(kind, kind === 'behind' ? '' : message)));
      }
    }
  }

  /** What the session made of what was heard or pressed. */
  private take(events: readonly RehearsalEvent[]): void {
    this.keeper.keepEvents(events);
    this.tellLoudness(this.watch.take(events));
    const { state } = this.session;
    const { checklist, opened } = this.shown;
    const earcon = this.isSilent ? null : earconFor(checklist, this.shown.state, events);
    if (hasSomething(state)) this.keeper.open();
    const phase = this.shown.phase === 'ready' && hasBegun(state) ? 'live' : this.shown.phase;
    this.show({ state, phase, checklist: this.session.checklist, opened: this.opened, now: this.now });
    if (earcon) this.earcons.play(earcon);
    for (const event of events) if (event.type === 'commanded') this.obey(event.command);
    if (this.opened > opened) this.openNext();
    const timeUp = events.some(({ type }) => type === 'time up');
    if (timeUp) void this.voice.say('The time is up.');
    if (this.session instanceof TestSession && this.session.isOver) void this.end('stop');
  }

  /** Keeps what the watch tells. It is a fact of the recording: no session has to know it. */
  private tellLoudness(loudness: readonly Loudness[]): void {
    if (loudness.length === 0) return;
    this.loudness.push(...loudness);
    this.keeper.keepEvents(loudness);
  }

  /** Whether nothing is told of how it goes, as in a test. */
  private get isSilent(): boolean {
    return this.plan.test?.rules.silent ?? false;
  }

  /** The next skill of the test is open: its words are likely now, and its card is read. */
  private openNext(): void {
    void this.listener?.expect(this.vocabulary());
    const { skill } = this.session.checklist;
    const { length } = this.plan.test!.checklists;
    const card = skill.card.replace(/\s+/g, ' ').trim();
    void this.voice.say(`Skill ${this.opened} of ${length}: ${skill.title}. ${card}`);
  }

  private obey(command: Command): void {
    const { checklist } = this.session;
    this.earcons.play('command');
    // A mock test moves on, and ends, by itself.
    if (command === 'stop' || command === 'next skill') {
      if (!this.plan.test) void this.end(command);
      return;
    }
    void this.voice.say(replyTo(checklist, this.session.state, command, this.now));
  }

  private greet(): void {
    const { test, past } = this.plan;
    const { title } = this.session.checklist.skill;
    const next = past ? 'You were broken off. Say "go on".' : 'Say "I am ready" to begin.';
    const about = test
      ? `Mock test, skill ${this.opened} of ${test.checklists.length}: ${title}. Say "next skill" after each.`
      : `${title}.`;
    void this.voice.say(`${about} ${next}`);
  }

  private tick(): void {
    const now = performance.now();
    const { settings } = this.plan;
    const { state, checklist } = this.session;
    if (this.microphone && !this.ended && now - this.lastEnergy > SILENT_AFTER * 1000)
      this.setTroubles(withTrouble(this.shown.troubles, troubleOf('microphone silent')));
    if (this.shown.caption !== '' && now > this.captionUntil) this.show({ caption: '' });

    const dial = dialOf(checklist, state, this.now);
    if (dial.kind !== 'timed' || dial.state !== 'reached') this.reachedStep = null;
    else if (this.reachedStep !== dial.step) {
      this.reachedStep = dial.step;
      if (!this.isSilent) this.earcons.play('clock met');
    }
    if (this.shown.phase !== 'opening') this.keepTime();
    const stretch = { from: this.called, to: this.now };
    this.called = stretch.to;
    if (this.shown.phase !== 'live' || this.voice.speaking) return;
    const call = timeCall(checklist, state, stretch);
    // Who is heard speaking, or may not be heard at all, is not asked to speak.
    const silent = stretch.to - this.lastSpeech >= LONG_SILENCE && this.shown.troubles.length === 0;
    if (call !== null) void this.voice.say(call);
    else if (settings.style === 'coach' && silent && nudgeDue(checklist, state, stretch.to))
      void this.voice.say(nudge(state));
  }

  /** Lets the clock of a mock test do what it does, once all that was said before is known. */
  private keepTime(): void {
    const { session, listener, now } = this;
    if (!(session instanceof TestSession) || !listener || this.keepingTime || this.ended) return;
    const [due] = clockEvents(this.plan.test!.rules, session.test, now);
    // What was said just before may still be in its closing silence.
    if (!due || !('at' in due) || (!this.speechOver && now - due.at < CAUGHT_UP)) return;
    this.keepingTime = true;
    void listener
      .feed(new Float32Array(0))
      .then(() => session.tick(now))
      .finally(() => (this.keepingTime = false));
  }

  /** Ends the rehearsal: what is being said is still heard, then all is marked. */
  private async end(by: Command): Promise<void> {
    if (this.ended) return;
    const at = this.now;
    this.ended = true;
    this.show({ phase: 'ending' });
    await this.microphone?.close();
    await this.listener?.stop();
    const { session, loudness } = this;
    const told = { loudness, listening: this.ear?.name ?? 'unknown', by };
    if (!hasSomething(session.state) && this.opened < 2)
      return this.onEnded({ state: null, test: null, id: null, ...told });
    await session.end(at);
    this.tellLoudness(this.watch.end());
    const test = session instanceof TestSession ? session.test : null;
    await Promise.race([this.keeper.finish(), new Promise((done) => setTimeout(done, KEEP_WITHIN))]);
    this.onEnded({ state: session.state, test, id: this.kept, ...told });
  }

  private setTroubles(troubles: readonly Trouble[]): void {
    if (troubles !== this.shown.troubles) this.show({ troubles });
  }

  private show(change: Partial<RoomShown>): void {
    this.shown = { ...this.shown, ...change };
    for (const listener of this.listeners) listener();
  }
}

/** Whether there is anything worth keeping. */
const hasSomething = (state: State): boolean => hasBegun(state) || state.utterances.length > 0;

/** The id of the next utterance. */
const freeId = (states: readonly State[]): number =>
  1 +
  Math.max(
    -1,
    ...states.flatMap(({ utterances, asides }) => [
      ...utterances.map(({ id }) => id),
      ...asides.map(({ utterance }) => utterance.id),
    ]),
  );
