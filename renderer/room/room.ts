import type { Ask } from '../../app/bench/resident/asks.ts';
import type { Command } from '../../app/language/commands.ts';
import type { Loudness, RehearsalEvent } from '../../app/marking/events.ts';
import { hasBegun, type State } from '../../app/marking/state.ts';
import { asksFor } from '../../app/run/carryOut.ts';
import { readBackOf } from '../../app/interpreting/reading/readBack.ts';
import { Run } from '../../app/run/run.ts';
import type { RunState } from '../../app/run/runState.ts';
import { isSilent, practiceOf } from '../../app/run/testPlan.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { RehearsalRecord, type Plan } from '../record/record.ts';
import { earconFor } from './earcons.ts';
import { RoomBench } from './roomBench.ts';
import { RoomCoach } from './roomCoach.ts';
import { RoomEar } from './roomEar.ts';
import { RoomMicrophone } from './roomMicrophone.ts';
import { Shown, type RoomShown } from './shown.ts';
import { Ticking } from './ticking.ts';

export type { PastRehearsal, Plan } from '../record/record.ts';
export type { RoomShown } from './shown.ts';

/** A rehearsal that is over, as its End screen needs it. */
export interface Ended {
  /** Null when it was left before anything was heard. */
  readonly state: State | null;
  /** The whole mock test; null for a rehearsal of one skill. */
  readonly test: RunState | null;
  /** Id the host keeps it under; null when it could not be kept (yet). */
  readonly id: string | null;
  /** How loud its stretches were. */
  readonly loudness: readonly Loudness[];
  /** What listened, as records name it. */
  readonly listening: string;
  /** The command that ended it. */
  readonly by: Command;
}

const OTHER_WINDOW = 'Another window goes on with this rehearsal. What I hear is kept as one of its own.';

/** Milliseconds the end waits for the record to be on disk; what is left goes on being sent. */
const KEEP_WITHIN = 2000;

/**
 * One rehearsal going on in this page: microphone → listener → run → marks, with the coach's voice and the record on
 * disk. Opens by itself; lives until `close`.
 */
export class Room {
  private readonly run: Run;
  private readonly shown: Shown;
  private readonly record: RehearsalRecord;
  private readonly ear: RoomEar;
  private readonly microphone: RoomMicrophone;
  private readonly coach: RoomCoach;
  private readonly bench: RoomBench;
  private readonly ticking: Ticking;
  private ended = false;
  private closed = false;

  constructor(
    readonly plan: Plan,
    private readonly onEnded: (ended: Ended) => void,
  ) {
    const { settings, lexicon, past, test, checklist } = plan;
    const samples = past?.samples ?? 0;
    // The run tells of its beginning while it is being made.
    const beginning: RehearsalEvent[] = [];
    let take = (events: readonly RehearsalEvent[]): void => void beginning.push(...events);
    const run = new Run(
      test ?? practiceOf(checklist, settings.continued),
      (utterance, wanted) => this.ear.pinpoint(utterance, wanted),
      (events) => take(events),
      past && { events: past.events, until: samples / SAMPLE_RATE },
    );
    const shown = new Shown(run, samples / SAMPLE_RATE);
    this.run = run;
    this.shown = shown;
    this.record = new RehearsalRecord(
      plan,
      () => this.ear.name,
      shown,
      () => this.coach.say(OTHER_WINDOW),
    );
    this.record.keepEvents(beginning);
    take = (events) => this.take(events);
    this.microphone = new RoomMicrophone(settings, shown, samples, {
      onSound: (some) => {
        this.record.keepSound(some);
        this.ear.feed(some);
      },
      onOpen: () => this.microphoneOpen(),
      onLost: () => this.microphoneLost(),
    });
    const shared = { run, shown, settings, lexicon, microphone: this.microphone };
    this.ear = new RoomEar(shared);
    this.bench = new RoomBench(shared);
    this.coach = new RoomCoach({ ...shared, ear: this.ear });
    this.ticking = new Ticking({ ...shared, ear: this.ear, coach: this.coach });
    void this.open();
  }

  get subscribe(): Shown['subscribe'] {
    return this.shown.subscribe;
  }

  get snapshot(): Shown['snapshot'] {
    return this.shown.snapshot;
  }

  /** Takes a command that was pressed. */
  press(command: Command): void {
    if (this.ended) return;
    const at = this.microphone.now;
    // What was said before a pause may stop a clock: it must be known before the pause is over.
    const known = command === 'go on' ? this.ear.caughtUp() : null;
    void Promise.resolve(known).then(() => this.run.command(command, at));
  }

  /** Takes what was pressed for the simulated resident's instruments. */
  handle(ask: Ask): void {
    if (!this.ended) this.bench.press(ask);
  }

  /** Seconds of the recording, as they pass. */
  readonly moment = (): number => this.microphone.now;

  /** The one button: begins, pauses, goes on. */
  pressMain(): void {
    const { phase, state } = this.shown.snapshot();
    if (state.paused !== null) this.press('go on');
    else if (phase === 'ready') this.press('begin');
    else if (phase === 'live') this.press('pause');
  }

  /** Sends what is not yet kept. */
  flush(): Promise<void> {
    return this.record.finish();
  }

  /** Gives everything back. What is not yet on disk goes on being sent. */
  async close(): Promise<void> {
    if (this.closed) return;
    this.closed = true;
    this.bench.close();
    this.ticking.close();
    this.ear.close();
    const coach = this.coach.close();
    await this.microphone.close();
    await coach;
    await this.record.finish();
  }

  private async open(): Promise<void> {
    if (await this.ear.open()) await this.microphone.start();
  }

  private microphoneOpen(): void {
    if (this.shown.snapshot().phase === 'opening') {
      this.shown.change({ phase: this.plan.past ? 'live' : 'ready' });
      this.bench.meet();
      this.coach.greet(this.plan.past !== null);
    } else if (this.run.state.paused !== null) this.coach.say('The microphone is back. Say "go on".');
  }

  /** Nobody knows what is done while nothing is heard: clocks must not run on. */
  private microphoneLost(): void {
    this.coach.play('trouble');
    if (this.shown.snapshot().phase === 'live' && this.run.state.paused === null) this.press('pause');
  }

  /** What the run made of what was heard or pressed. */
  private take(events: readonly RehearsalEvent[]): void {
    this.record.keepEvents(events);
    const { run } = this;
    const before = this.shown.snapshot();
    const earcon = isSilent(run.plan) ? null : earconFor(before.checklist, before.state, events);
    if (hasSomething(run.state)) this.record.open();
    this.shown.run(run, this.microphone.now);
    if (earcon) this.coach.play(earcon);
    this.readBack(before, events);
    for (const event of events) if (event.type === 'commanded') this.answer(event.command);
    if (run.opened > before.opened) {
      this.ear.expectSkill();
      this.bench.meet();
      this.coach.announceSkill();
    }
    this.bench.take(before.state, events);
    if (events.some(({ type }) => type === 'time up')) this.coach.say('The time is up.');
    if (run.isOver) void this.end('stop');
  }

  /** Reads numbers back in coached style, for the trainee to object to or confirm. */
  private readBack(before: RoomShown, events: readonly RehearsalEvent[]): void {
    const { run, microphone, coach, plan } = this;
    if (plan.settings.style !== 'coach' || isSilent(run.plan)) return;
    const question = readBackOf(before.checklist, before.state, events);
    if (!question) return;
    coach.say(question.text);
    void run.readBack(question.readings, microphone.now);
  }

  /** Answers a command. What it asks of the run, the run has done, but for the end of practice. */
  private answer(command: Command): void {
    const { run, coach } = this;
    coach.play('command');
    const asked = asksFor(run.plan, run.soFar, command);
    if (asked === null) coach.answer(command);
    else if (asked === 'end' && run.plan.form === null) void this.end(command);
  }

  /** Ends the rehearsal: what is being said is still heard, then all is marked. */
  private async end(by: Command): Promise<void> {
    if (this.ended) return;
    const { run, record, microphone } = this;
    const at = microphone.now;
    this.ended = true;
    this.shown.change({ phase: 'ending' });
    await microphone.close();
    await this.ear.stop();
    const told = { loudness: record.loudness, listening: this.ear.name, by };
    if (!hasSomething(run.state) && run.opened < 2)
      return this.onEnded({ state: null, test: null, id: null, ...told });
    await run.end(at);
    record.end();
    await Promise.race([record.finish(), new Promise((done) => setTimeout(done, KEEP_WITHIN))]);
    this.onEnded({ state: run.state, test: this.plan.test && run.soFar, id: record.id, ...told });
  }
}

/** Whether there is anything worth keeping. */
const hasSomething = (state: State): boolean => hasBegun(state) || state.utterances.length > 0;
