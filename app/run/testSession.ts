import { carryOver } from './carryOver.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Command } from '../language/commands.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { clockEvents, foldTest, lateIn, NO_TEST, openRun, type MockTest } from './mockTest.ts';
import type { Partial } from './provisional.ts';
import { BEFORE, type Spoken, type State } from '../marking/state.ts';
import type { TestPlan } from './testPlan.ts';
import type { Utterance } from '../language/utterance.ts';
import { begin, brokenOff, Session, type Pinpoint } from './session.ts';

/**
 * A mock test being heard: one {@link Session} after the other, on one clock. "Next skill" closes the one that is open for
 * good and opens the next in the listed order; after the last one, at "stop" and when the time is up the test is over, and
 * what comes then is not taken in. All calls are worked off in their order.
 */
export class TestSession {
  private now: MockTest = NO_TEST;
  private session!: Session;
  private last: Promise<void> = Promise.resolve();
  /** What the call being worked off has led to so far. */
  private led: RehearsalEvent[] = [];

  /** @param past events of a test that was broken off, and the second of the recording at which it was */
  constructor(
    private readonly plan: TestPlan,
    private readonly pinpoint: Pinpoint,
    private readonly onEvents: (events: readonly RehearsalEvent[]) => void = () => undefined,
    past: { readonly events: readonly RehearsalEvent[]; readonly until: number } | null = null,
  ) {
    if (past) {
      this.now = past.events.reduce(foldTest, NO_TEST);
      const events = openRun(this.now) ? [brokenOff(past.until)] : [];
      this.session = this.makeSession(events);
      return;
    }
    const { form, rules, seed, checklists } = plan;
    const skills = checklists.map(({ skill: { id, version }, variants }) => ({
      skill: id,
      variants,
      version,
    }));
    this.open([{ type: 'drawn', form, rules: rules.id, seed, skills }]);
  }

  get test(): MockTest {
    return this.now;
  }

  /** The skill that is open, or was last. */
  get checklist(): Checklist {
    return this.plan.checklists[Math.max(0, this.now.runs.length - 1)]!;
  }

  /** Its state. */
  get state(): State {
    return this.now.runs.at(-1)?.state ?? BEFORE;
  }

  get isOver(): boolean {
    return openRun(this.now) === null;
  }

  /** Takes an utterance in. What is not over before the time is up is not marked. */
  hear(utterance: Utterance): Promise<void> {
    return this.inTurn(async () => {
      this.keepTime(utterance.end);
      if (this.isOver) return;
      await this.session.hear(utterance);
      this.take(lateIn(this.plan.checklists, this.now, utterance, this.led));
      await this.obey();
    });
  }

  partial(partial: Partial): Promise<void> {
    return this.inTurn(() => (this.isOver ? undefined : this.session.partial(partial)));
  }

  /** Takes a command that was pressed, at a time in seconds. */
  command(command: Command, at: number): Promise<void> {
    return this.inTurn(async () => {
      this.keepTime(at);
      if (this.isOver) return;
      await this.session.command(command, at);
      await this.obey();
    });
  }

  spoke(spoken: Spoken): Promise<void> {
    return this.inTurn(() => (this.isOver ? undefined : this.session.spoke(spoken)));
  }

  /** Lets the clock do what it does by itself up to a moment; to be called once all that was said before is known. */
  tick(now: number): Promise<void> {
    return this.inTurn(() => this.keepTime(now));
  }

  /** Ends the test at a time in seconds, once everything heard has been worked off. */
  async end(at: number): Promise<MockTest> {
    await this.inTurn(async () => {
      this.keepTime(at);
      if (!this.isOver) await this.session.end(at);
    });
    return this.now;
  }

  private keepTime(now: number): void {
    // The end of the look-around time may lie before the end of the test's own, both before now.
    for (;;) {
      const events = clockEvents(this.plan.rules, this.now, now);
      if (events.length === 0) return;
      this.take(events);
      if (!this.isOver) this.session = this.makeSession([]);
    }
  }

  /** Does what the commands of this call ask for. */
  private async obey(): Promise<void> {
    const order = this.led.findLast((e) => e.type === 'commanded');
    if (order?.type !== 'commanded') return;
    const isLast = this.now.runs.length >= this.plan.checklists.length;
    if (order.command === 'stop' || (order.command === 'next skill' && isLast))
      await this.session.end(order.at);
    else if (order.command === 'next skill') {
      this.open([{ type: 'moved on', at: order.at }]);
    }
  }

  /** Opens the next skill. Told in one piece with what came before: between two skills the test is not over. */
  private open(after: readonly RehearsalEvent[]): void {
    const { checklists } = this.plan;
    const next = checklists[this.now.runs.length]!;
    const { runs } = after.reduce(foldTest, this.now);
    this.take([...after, begin(next), ...carryOver(checklists, runs)]);
    this.session = this.makeSession([]);
  }

  private makeSession(events: readonly RehearsalEvent[]): Session {
    const { checklist, state } = this;
    return new Session(checklist, this.pinpoint, (some) => this.take(some), { state, events });
  }

  private take(events: readonly RehearsalEvent[]): void {
    if (events.length === 0) return;
    this.led.push(...events);
    this.now = events.reduce(foldTest, this.now);
    this.onEvents(events);
  }

  private inTurn(work: () => void | Promise<void>): Promise<void> {
    this.last = this.last.then(() => {
      this.led = [];
      return work();
    });
    return this.last;
  }
}
