import { attend } from './attend.ts';
import { asksFor, moveOn, obey, openRun, type Commanded } from './carryOut.ts';
import type { Command } from '../language/commands.ts';
import type { BenchEvent, RehearsalEvent } from '../marking/events.ts';
import { momentsWanted } from '../interpreting/interpret.ts';
import { clockEvents, dueBy, lateIn, type Due } from './mockTest.ts';
import { provisional, settledBy, settledUntil, settleTentative } from './provisional.ts';
import { foldRun, NO_RUN, openSkill, type RunState } from './runState.ts';
import { BEFORE, type ReadBack, type Spoken, type State } from '../marking/state.ts';
import type { RunPlan } from './testPlan.ts';
import type { Checklist } from '../skills/checklist.ts';
import { withoutJudge, type Partial, type Utterance } from '../language/utterance.ts';

/** Finds the times of some words of an utterance more exactly; see `Listener.pinpoint`. */
export type Pinpoint = (utterance: Utterance, wanted: readonly number[]) => Promise<Utterance>;

/** A run that was broken off: its events, and the second of the recording at which it was. */
export interface PastRun {
  readonly events: readonly RehearsalEvent[];
  readonly until: number;
}

/**
 * One run being heard, of one skill in practice or of a mock test: utterances, partial results, commands and the coach's own
 * sayings go in, events come out, the state follows. All are worked off in the order of the calls; each promise resolves when
 * its own is done. Once the run is over, what comes is not taken in.
 */
export class Run {
  private now: RunState;
  private last: Promise<void> = Promise.resolve();

  /**
   * @param pinpoint how the exact time of a word is found, when a clock hangs on it
   * @param onEvents receives the events as they come, in order; those of the beginning while the run is being made
   * @param past what is gone on with: it waits, paused since it was broken off
   */
  constructor(
    readonly plan: RunPlan,
    private readonly pinpoint: Pinpoint,
    private readonly onEvents: (events: readonly RehearsalEvent[]) => void = () => undefined,
    past: PastRun | null = null,
  ) {
    this.now = (past?.events ?? []).reduce(foldRun, NO_RUN);
    if (this.now.runs.length === 0) this.take(openRun(plan));
    else if (past && !this.isOver) this.take([{ type: 'paused', at: past.until, brokenOff: true }]);
  }

  /** All skills so far. */
  get soFar(): RunState {
    return this.now;
  }

  /** How many skills have been opened. */
  get opened(): number {
    return this.now.runs.length;
  }

  /** The skill that is open, or was last. */
  get checklist(): Checklist {
    const { checklists } = this.plan;
    // A plan has at least one skill, and no more are opened than it has.
    return checklists[Math.max(0, this.opened - 1)]!;
  }

  /** The state of that skill. */
  get state(): State {
    return this.now.runs.at(-1)?.state ?? BEFORE;
  }

  get isOver(): boolean {
    return openSkill(this.now) === null;
  }

  /** What a test's clock will have done by a moment, in seconds of the recording; null where that is nothing. */
  dueBy(moment: number): Due | null {
    return dueBy(this.plan.rules, this.now, moment);
  }

  /**
   * Takes an utterance in: an echo, a command, an aside, or part of the rehearsal. What a test's time cuts off is not marked.
   *
   * @param judgedFor the skill whose steps the judge was asked about, where that may be another than the open one. Of another skill's steps it says nothing, not that they were not said
   */
  hear(utterance: Utterance, judgedFor: string | null = null): Promise<void> {
    return this.inTurn(async () => {
      this.keepTime(utterance.end);
      if (this.isOver) return;
      const own = this.isForOther(judgedFor) ? withoutJudge(utterance) : utterance;
      const { events, heard } = await this.attendTo(own);
      const led = this.settle(events, settledUntil(heard));
      this.take(lateIn(this.plan.checklists, this.now, own, led));
      this.carryOut(led);
    });
  }

  /** Takes in what speech that still goes on sounds like so far: steps are credited tentatively, until `hear` settles them. */
  partial(partial: Partial, judgedFor: string | null = null): Promise<void> {
    return this.inTurn(() => {
      if (this.isOver) return;
      this.settle([], settledBy(partial));
      const { judged, ...unjudged } = partial;
      const own = judged && !this.isForOther(judgedFor) ? partial : unjudged;
      this.take(provisional(this.checklist, this.state, own));
    });
  }

  /** Takes a command that was pressed, at a time in seconds. */
  command(command: Command, at: number): Promise<void> {
    return this.inTurn(() => {
      this.keepTime(at);
      if (this.isOver) return;
      const events = obey(this.state, command, at, null);
      this.take(events);
      this.carryOut(events);
    });
  }

  /**
   * The coach speaks: its words are not the trainee's. Call it as the saying begins, with a `to` that is rather late than
   * early, and again with the same `from` once it has ended.
   */
  spoke({ text, from, to }: Spoken): Promise<void> {
    return this.inTurn(() => {
      if (!this.isOver) this.take([{ type: 'spoke', text, from, to }]);
    });
  }

  /** The coach has read numbers back: what is said next may answer. At a time in seconds. */
  readBack(readings: ReadBack['readings'], at: number): Promise<void> {
    return this.inTurn(() => {
      if (!this.isOver && readings.length > 0) this.take([{ type: 'read back', readings, at }]);
    });
  }

  /** Takes in that a simulated resident was met, or what was done with them. */
  atBench(events: readonly BenchEvent[]): Promise<void> {
    return this.inTurn(() => {
      if (!this.isOver) this.take(events);
    });
  }

  /** Lets a test's clock do what it does up to a moment; to be called once all that was said before is known. */
  tick(moment: number): Promise<void> {
    return this.inTurn(() => this.keepTime(moment));
  }

  /** Ends the run at a time in seconds, once everything heard has been worked off. */
  async end(at: number): Promise<RunState> {
    await this.inTurn(() => {
      this.keepTime(at);
      if (!this.isOver) this.close(at);
    });
    return this.now;
  }

  /** Whether the judge was asked about another skill's steps than the open one's. */
  private isForOther(judgedFor: string | null): boolean {
    return judgedFor !== null && judgedFor !== this.checklist.skill.id;
  }

  /** The events of an utterance, with the times of the words that a clock hangs on as exact as they can be had. */
  private async attendTo(
    utterance: Utterance,
  ): Promise<{ readonly events: readonly RehearsalEvent[]; readonly heard: Utterance }> {
    const events = attend(this.checklist, this.state, utterance);
    const asTheyAre = { events, heard: utterance };
    const isNarrated = events.some(({ type }) => type === 'heard');
    const wanted = isNarrated ? momentsWanted(events, utterance) : [];
    if (wanted.length === 0) return asTheyAre;
    // A listener that fails says so itself. The words' own times are coarser, and what was heard is not lost.
    const heard = await this.pinpoint(utterance, wanted).catch(() => utterance);
    if (heard === utterance) return asTheyAre;
    return { events: attend(this.checklist, this.state, heard), heard };
  }

  /**
   * Does what a command among the events asks of the run. Practice goes on until `end` is called: what is being said as "stop" is
   * pressed is still heard, and a recording is marked to its end.
   */
  private carryOut(events: readonly RehearsalEvent[]): void {
    const order = events.findLast((e): e is Commanded => e.type === 'commanded');
    if (!order) return;
    const asked = asksFor(this.plan, this.now, order.command);
    if (asked === 'next skill') this.take(moveOn(this.plan, this.now, order.at));
    if (asked === 'end' && this.plan.form !== null) this.close(order.at);
  }

  /** The end of the time to look around may lie before the end of the test's own, both before now. */
  private keepTime(moment: number): void {
    for (let due = this.dueBy(moment); due; due = this.dueBy(moment)) this.take(clockEvents(due));
  }

  private close(at: number): void {
    this.settle([], Infinity);
    this.take([{ type: 'ended', at }]);
  }

  /** Takes the events of what was heard up to a time, and takes back the tentative credits that they do not bear out. */
  private settle(events: readonly RehearsalEvent[], until: number): readonly RehearsalEvent[] {
    const after = events.reduce(foldRun, this.now).runs.at(-1)?.state ?? BEFORE;
    const settled = [...events, ...settleTentative(after, until)];
    this.take(settled);
    return settled;
  }

  private take(events: readonly RehearsalEvent[]): void {
    if (events.length === 0) return;
    this.now = events.reduce(foldRun, this.now);
    this.onEvents(events);
  }

  private inTurn(work: () => void | Promise<void>): Promise<void> {
    this.last = this.last.then(work);
    return this.last;
  }
}
