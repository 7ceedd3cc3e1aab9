import { messageOf } from '../faults/faults.ts';
import type { Utterance } from '../language/utterance.ts';
import { ContinuedListener } from '../listening/continued.ts';
import type { Listener, ListenerEvent, Vocabulary } from '../listening/listener.ts';
import { SoundBuffer } from '../sound/soundBuffer.ts';

/** A listener that may stop working, and how it is put away. */
export interface ClosableListener {
  readonly listener: Listener;
  close(): void;
}

/**
 * Opens a listener.
 *
 * @param onLost to be told why nothing more can be had of it
 */
export type OpenInner = (
  onEvent: (event: ListenerEvent) => void,
  onLost: (reason: string) => void,
) => Promise<ClosableListener>;

/**
 * Seconds of sound kept to be heard again, since the last utterance: one comes of 15 s at the most, and a lost worker is
 * noticed within 15 s. What a slow machine is behind by more is lost with it. 4 MB.
 */
const HELD = 60;

/**
 * Seconds after an utterance's end from which on sound is heard again: its end is no surer than that, and at least 0.4 s of
 * silence follow.
 */
const BEYOND = 0.1;

/**
 * How many listeners in a row may be lost without having heard anything. The second of them does not hear the same sound
 * again: that may be what it was lost of. After the third the fault lies elsewhere.
 */
const LOST_AT_MOST = 3;

/**
 * A listener that outlives the one behind it. When that is lost, or says that it is in trouble, this says so, opens another,
 * and lets it hear all sound since the last utterance. Times and ids go on.
 */
export class RevivingListener implements Listener {
  private readonly sound = new SoundBuffer();
  private vocabulary: Vocabulary = { phrases: [] };
  /** Seconds up to which it is known what was said, and the next utterance's id. */
  private known = 0;
  private ids = 0;
  private lost = 0;
  private inner: ClosableListener | null = null;
  /** Counts the listeners: what an earlier one says does not matter any more. */
  private lives = 0;
  /** Who makes the events of the listener behind this one's; the same as `listener` once it has caught up. */
  private counting: ContinuedListener | null = null;
  private listener: ContinuedListener | null = null;
  private catchingUp: Promise<void> = Promise.resolve();
  /** Why there is no listener and will be none, before the next start or for good. */
  private dead: Error | null = null;
  private closed: Error | null = null;
  /** Settles when the listener of the day is lost: it may leave what was asked of it unanswered. */
  private ending = ending();

  private constructor(
    private readonly openInner: OpenInner,
    private readonly onEvent: (event: ListenerEvent) => void,
  ) {}

  /** @throws {Error} what `openInner` throws the first time */
  static async open(
    openInner: OpenInner,
    onEvent: (event: ListenerEvent) => void,
  ): Promise<RevivingListener> {
    const reviving = new RevivingListener(openInner, onEvent);
    await reviving.live();
    return reviving;
  }

  async start(vocabulary: Vocabulary): Promise<void> {
    if (this.closed) throw this.closed;
    this.vocabulary = vocabulary;
    this.sound.clear();
    this.known = this.ids = this.lost = 0;
    this.dead = null;
    // At once: what is fed from now on belongs to the new beginning, and what is still being heard to none.
    this.listener = this.counting = null;
    const free = Promise.race([this.catchingUp, this.ending.settled]);
    this.catchUpWith(free.then(() => (this.inner ? this.catchUp(this.inner) : this.live())));
    await this.alive();
  }

  async expect(vocabulary: Vocabulary): Promise<void> {
    this.vocabulary = vocabulary;
    await this.ask((listener) => listener.expect(vocabulary));
  }

  async feed(samples: Float32Array): Promise<void> {
    this.sound.append(samples);
    this.sound.dropBefore(Math.max(this.known, this.sound.seconds - HELD));
    const { listener } = this;
    // While there is none, the next one finds the sound among what it has to catch up with.
    const fed = listener?.feed(samples).catch((error: unknown) => {
      if (listener === this.listener) throw error;
    });
    await Promise.race([fed, this.ending.settled]);
    await this.alive();
  }

  async pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    return (await this.listener?.pinpoint(utterance, wanted).catch(() => null)) ?? utterance;
  }

  async stop(): Promise<void> {
    await this.ask((listener) => listener.stop());
  }

  /** Puts the listener away; nothing more can be had of it. */
  close(): void {
    this.lives++;
    this.inner?.close();
    this.inner = this.listener = this.counting = null;
    this.dead = this.closed = new Error('The listener has been closed.');
  }

  /** Asks the listener there is, and the next one where that is lost meanwhile. */
  private async ask(what: (listener: Listener) => Promise<void>): Promise<void> {
    for (;;) {
      const listener = await this.alive();
      const { lives } = this;
      const done = what(listener).catch((error: unknown) => {
        if (lives === this.lives) throw error;
      });
      await Promise.race([done, this.ending.settled]);
      if (lives === this.lives) return;
    }
  }

  /** The listener, once it has caught up. @throws {Error} there will be none */
  private async alive(): Promise<ContinuedListener> {
    while (!this.listener) {
      if (this.dead) throw this.dead;
      await Promise.race([this.catchingUp, this.ending.settled]);
    }
    return this.listener;
  }

  private async live(): Promise<void> {
    const life = ++this.lives;
    const now =
      <T>(hear: (what: T) => void) =>
      (what: T): void => {
        if (life === this.lives) hear(what);
      };
    const inner = await this.openInner(
      now<ListenerEvent>((event) => this.take(event)),
      now<string>((reason) => this.lose(reason)),
    );
    if (life !== this.lives) return inner.close();
    this.inner = inner;
    await this.catchUp(inner);
  }

  /** Has the listener there is hear all that is not known. */
  private async catchUp(inner: ClosableListener): Promise<void> {
    this.listener = null;
    const { sound } = this;
    let at = Math.max(this.known, sound.seconds - HELD);
    const listener = new ContinuedListener(inner.listener, (event) => this.tell(event), {
      seconds: at,
      ids: this.ids,
    });
    this.counting = listener;
    await listener.start(this.vocabulary);
    while (at < sound.seconds && inner === this.inner) {
      const to = Math.min(at + 1, sound.seconds);
      const piece = sound.slice(at, to);
      at = to;
      await listener.feed(piece);
    }
    if (inner === this.inner) this.listener = listener;
  }

  private catchUpWith(work: Promise<void>): void {
    const { lives } = this;
    this.catchingUp = work.catch((error: unknown) => {
      if (lives === this.lives) this.lose(messageOf(error));
    });
  }

  private take(event: ListenerEvent): void {
    if (event.type === 'trouble' && event.trouble.kind === 'engine') this.lose(event.trouble.message);
    else this.counting?.take(event);
  }

  private tell(event: ListenerEvent): void {
    if (event.type === 'utterance') {
      this.known = event.utterance.end + BEYOND;
      this.ids = event.utterance.id + 1;
      this.lost = 0;
    }
    this.onEvent(event);
  }

  private lose(reason: string): void {
    this.lives++;
    this.inner?.close();
    this.inner = this.listener = this.counting = null;
    this.ending.settle();
    this.ending = ending();
    this.lost++;
    const isDead = this.lost >= LOST_AT_MOST;
    if (this.lost > 1) this.known = this.sound.seconds;
    let what = `stopped (${reason}) and is started again. What was said meanwhile comes late.`;
    if (this.lost > 1) what = `stopped again (${reason}) and is started again. What was said last is lost.`;
    if (isDead)
      what = `could not be started again (${reason}). What is said now is not heard: end the rehearsal and open the page again.`;
    const message = `The recogniser ${what}`;
    const kind = this.lost > 1 ? 'engine' : 'restarted';
    this.onEvent({ type: 'trouble', trouble: { kind, message } });
    if (isDead) this.dead = new Error(message);
    else this.catchUpWith(this.live());
  }
}

function ending(): { readonly settled: Promise<void>; settle(): void } {
  let settle = (): void => undefined;
  const settled = new Promise<void>((done) => (settle = done));
  return { settled, settle };
}
