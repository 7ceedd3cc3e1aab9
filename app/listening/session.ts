import type { Checklist } from '../rehearsal/checklist.ts';
import type { RehearsalEvent } from '../rehearsal/events.ts';
import { interpret, momentsWanted } from '../rehearsal/rehearsal.ts';
import { BEFORE, fold, type State } from '../rehearsal/state.ts';
import type { Utterance } from '../rehearsal/utterance.ts';
import type { Listener } from './listener.ts';

/** One rehearsal being heard: utterances go in one after the other, events come out, the state follows. */
export class Session {
  private current: State = BEFORE;
  private last: Promise<void> = Promise.resolve();

  /**
   * @param pinpoint how the exact time of a word is found, when a clock hangs on it
   * @param onEvents receives the events of each utterance, in order
   */
  constructor(
    private readonly checklist: Checklist,
    private readonly pinpoint: Listener['pinpoint'],
    private readonly onEvents: (events: readonly RehearsalEvent[]) => void = () => undefined,
  ) {
    this.apply([{ type: 'began', skill: checklist.skill.id, variants: checklist.variants }]);
  }

  get state(): State {
    return this.current;
  }

  /** Takes an utterance in. Utterances are worked off in the order of the calls; resolves when this one is done. */
  hear(utterance: Utterance): Promise<void> {
    this.last = this.last.then(async () => {
      const events = interpret(this.checklist, this.current, utterance);
      const wanted = momentsWanted(events, utterance);
      if (wanted.length === 0) return this.apply(events);
      const finer = await this.pinpoint(utterance, wanted);
      this.apply(interpret(this.checklist, this.current, finer));
    });
    return this.last;
  }

  /** Ends the rehearsal at a time in seconds, once everything heard has been worked off. */
  async end(at: number): Promise<State> {
    await this.last;
    this.apply([{ type: 'ended', at }]);
    return this.current;
  }

  private apply(events: readonly RehearsalEvent[]): void {
    this.current = events.reduce(fold, this.current);
    this.onEvents(events);
  }
}
