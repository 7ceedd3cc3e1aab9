import { attend, obey } from './attend.ts';
import { carriedIn } from './carryOver.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Command } from '../language/commands.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { provisional, settledBy, settledUntil, settleTentative, type Partial } from './provisional.ts';
import { momentsWanted } from '../interpreting/interpret.ts';
import { BEFORE, fold, type Spoken, type State } from '../marking/state.ts';
import type { Utterance } from '../language/utterance.ts';

/** Finds the times of some words of an utterance more exactly; see `Listener.pinpoint`. */
export type Pinpoint = (utterance: Utterance, wanted: readonly number[]) => Promise<Utterance>;

/** How a session opens: from what state, by what events. */
export interface Opening {
  readonly state: State;
  readonly events: readonly RehearsalEvent[];
}

/** The event with which a skill begins. */
export const begin = ({ skill, variants }: Checklist): RehearsalEvent => ({
  type: 'began',
  skill: skill.id,
  variants,
});

/**
 * How a rehearsal of one skill opens.
 *
 * @param continued whether it begins as a later skill of a test does: hands just washed, the resident known
 */
export const openingOf = (checklist: Checklist, continued = false): Opening => ({
  state: BEFORE,
  events: [begin(checklist), ...(continued ? carriedIn(checklist) : [])],
});

/** The event with which a rehearsal that was broken off is opened again: it waits, paused since then. */
export const brokenOff = (at: number): RehearsalEvent => ({ type: 'paused', at, brokenOff: true });

/**
 * One rehearsal being heard: utterances, partial results, commands and the coach's own sayings go in, events come out, the
 * state follows. All are worked off in the order of the calls; each promise resolves when its own is done.
 */
export class Session {
  private current: State = BEFORE;
  private last: Promise<void> = Promise.resolve();

  /**
   * @param pinpoint how the exact time of a word is found, when a clock hangs on it
   * @param onEvents receives the events of each utterance, in order. A command, spoken or pressed, is a `commanded` event:
   *   the caller carries it out where more is to be done than pausing and going on
   * @param opening where it begins, and the events that open it
   */
  constructor(
    readonly checklist: Checklist,
    private readonly pinpoint: Pinpoint,
    private readonly onEvents: (events: readonly RehearsalEvent[]) => void = () => undefined,
    opening: Opening = openingOf(checklist),
  ) {
    this.current = opening.state;
    this.apply(opening.events);
  }

  get state(): State {
    return this.current;
  }

  /** Takes an utterance in: an echo, a command, an aside, or part of the rehearsal. */
  hear(utterance: Utterance): Promise<void> {
    return this.inTurn(async () => {
      const events = attend(this.checklist, this.current, utterance);
      const narrated = events.some((e) => e.type === 'heard');
      const wanted = narrated ? momentsWanted(events, utterance) : [];
      if (wanted.length === 0) return this.settle(events, settledUntil(utterance));
      // A listener that fails says so itself. The words' own times are coarser, and what was heard is not lost.
      const finer = await this.pinpoint(utterance, wanted).catch(() => utterance);
      this.settle(attend(this.checklist, this.current, finer), settledUntil(finer));
    });
  }

  /** Takes in what speech that still goes on sounds like so far: steps are credited tentatively, until `hear` settles them. */
  partial(partial: Partial): Promise<void> {
    return this.inTurn(() => {
      this.settle([], settledBy(partial));
      this.apply(provisional(this.checklist, this.current, partial));
    });
  }

  /** Takes a command that was pressed, at a time in seconds. */
  command(command: Command, at: number): Promise<void> {
    return this.inTurn(() => this.apply(obey(this.current, command, at, null)));
  }

  /**
   * The coach speaks: its words are not the trainee's. Call it as the saying begins, with a `to` that is rather late than
   * early, and again with the same `from` once it has ended.
   */
  spoke({ text, from, to }: Spoken): Promise<void> {
    return this.inTurn(() => this.apply([{ type: 'spoke', text, from, to }]));
  }

  /** Ends the rehearsal at a time in seconds, once everything heard has been worked off. */
  async end(at: number): Promise<State> {
    await this.inTurn(() => this.settle([], Infinity));
    this.apply([{ type: 'ended', at }]);
    return this.current;
  }

  /** Applies the events of what was heard up to a time, and takes back the tentative credits that they do not bear out. */
  private settle(events: readonly RehearsalEvent[], until: number): void {
    this.apply([...events, ...settleTentative(events.reduce(fold, this.current), until)]);
  }

  private apply(events: readonly RehearsalEvent[]): void {
    if (events.length === 0) return;
    this.current = events.reduce(fold, this.current);
    this.onEvents(events);
  }

  private inTurn(work: () => void | Promise<void>): Promise<void> {
    this.last = this.last.then(work);
    return this.last;
  }
}
