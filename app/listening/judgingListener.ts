import { inTurn } from '../meaning/inTurn.ts';
import type { Judge } from '../meaning/judge.ts';
import { messageOf } from '../faults/faults.ts';
import { utteranceOf, type Partial, type Utterance } from '../language/utterance.ts';
import type { Listener, ListenerEvent, Vocabulary } from './listener.ts';

/**
 * Milliseconds that judging an utterance may take, in the mean of the last {@link WATCHED}, before the judge is put away: it would
 * hold up the marks. One core of 2020 takes about 60.
 */
const TOO_SLOW = 1000;
const WATCHED = 5;

/** A listener whose utterances and partial results also carry what the learned judge makes of them. Events keep their order. */
export class JudgingListener implements Listener {
  private inner!: Listener;
  private last: Promise<void> = Promise.resolve();
  private took: number[] = [];
  private isAway = false;
  /** Events that are not told yet. */
  private waiting = 0;
  private readonly read: ReturnType<typeof inTurn>;

  private constructor(
    private readonly judge: Pick<Judge, 'expect' | 'judge'>,
    private readonly onEvent: (event: ListenerEvent) => void,
    private readonly clock: () => number,
  ) {
    this.read = inTurn(judge);
  }

  /**
   * @param openInner opens the listener whose utterances are judged
   * @param clock milliseconds of some steadily rising clock
   */
  static async open(
    openInner: (onEvent: (event: ListenerEvent) => void) => Promise<Listener>,
    judge: Pick<Judge, 'expect' | 'judge'>,
    onEvent: (event: ListenerEvent) => void,
    clock: () => number = () => performance.now(),
  ): Promise<JudgingListener> {
    const judging = new JudgingListener(judge, onEvent, clock);
    judging.inner = await openInner((event) => judging.hear(event));
    return judging;
  }

  async start(vocabulary: Vocabulary): Promise<void> {
    await this.lean(vocabulary);
    await this.inner.start(vocabulary);
  }

  async expect(vocabulary: Vocabulary): Promise<void> {
    await this.lean(vocabulary);
    await this.inner.expect(vocabulary);
  }

  async feed(samples: Float32Array): Promise<void> {
    await this.inner.feed(samples);
    await this.last;
  }

  pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    return this.inner.pinpoint(utterance, wanted);
  }

  async stop(): Promise<void> {
    await this.inner.stop();
    await this.last;
  }

  private async lean({ steps = [] }: Vocabulary): Promise<void> {
    this.last = this.last.then(() => this.judge.expect(steps)).catch((error: unknown) => this.putAway(error));
    await this.last;
  }

  private hear(event: ListenerEvent): void {
    this.waiting++;
    this.last = this.last.then(async () => {
      this.waiting--;
      this.onEvent(await this.withJudgement(event));
    });
  }

  private async withJudgement(event: ListenerEvent): Promise<ListenerEvent> {
    if (event.type === 'utterance') return { ...event, utterance: await this.judged(event.utterance) };
    // A partial result that something newer waits behind is not worth the time.
    return event.type === 'partial' && this.waiting === 0 ? this.judgedInPart(event) : event;
  }

  private async judgedInPart<P extends Partial>(partial: P): Promise<P> {
    const { judged } = await this.judged(utteranceOf({ ...partial, id: 0 }), false);
    return { ...partial, ...(judged && { judged }) };
  }

  private async judged(utterance: Utterance, isWhole = true): Promise<Utterance> {
    if (this.isAway) return utterance;
    const began = this.clock();
    try {
      const judged = await this.read(utterance, isWhole);
      this.took = [...this.took, this.clock() - began].slice(-WATCHED);
      const mean = this.took.reduce((sum, ms) => sum + ms, 0) / this.took.length;
      if (this.took.length === WATCHED && mean > TOO_SLOW)
        this.putAway(`it takes ${Math.round(mean)} ms a sentence on this machine`);
      return judged;
    } catch (error) {
      this.putAway(error);
      return utterance;
    }
  }

  private putAway(why: unknown): void {
    if (this.isAway) return;
    this.isAway = true;
    const reason = typeof why === 'string' ? why : messageOf(why);
    const message = `The learned judge is not at work: ${reason}. From here on the rules mark alone.`;
    this.onEvent({ type: 'trouble', trouble: { kind: 'judge', message } });
  }
}
