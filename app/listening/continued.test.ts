import { describe, expect, it } from 'vitest';
import { utteranceOf, type Utterance } from '../language/utterance.ts';
import { ContinuedListener } from './continued.ts';
import type { Listener, ListenerEvent } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';

/** A listener that hears one word in every second of sound, when that is over. Works its calls off one after the other. */
class Metronome implements Listener {
  onEvent: (event: ListenerEvent) => void = () => undefined;
  asked: Utterance[] = [];
  private samples = 0;
  private id = 0;
  private queue: Promise<void> = Promise.resolve();

  private inTurn(work: () => void): Promise<void> {
    this.queue = this.queue.then(work);
    return this.queue;
  }
  start(): Promise<void> {
    return this.inTurn(() => {
      this.samples = this.id = 0;
    });
  }
  feed({ length }: Float32Array): Promise<void> {
    return this.inTurn(() => {
      for (let i = 0; i < length; i++) if (++this.samples % SAMPLE_RATE === 0) this.say();
    });
  }
  expect(): Promise<void> {
    return Promise.resolve();
  }
  pinpoint(utterance: Utterance): Promise<Utterance> {
    this.asked.push(utterance);
    return Promise.resolve({ ...utterance, uncertainty: 0 });
  }
  stop(): Promise<void> {
    return this.inTurn(() => this.samples % SAMPLE_RATE !== 0 && this.say());
  }
  private say(): void {
    const end = this.samples / SAMPLE_RATE;
    const start = Math.ceil(end) - 1;
    this.onEvent({ type: 'speech', at: start });
    this.onEvent({ type: 'partial', text: 'tick', start, end });
    const utterance = utteranceOf({ id: this.id++, text: 'tick', start, end });
    this.onEvent({ type: 'utterance', utterance: { ...utterance, second: utterance } });
  }
}

describe('a listener started again', () => {
  it('goes on with times and ids, and loses nothing that was fed around the start', async () => {
    const inner = new Metronome();
    const events: ListenerEvent[] = [];
    const listener = new ContinuedListener(inner, (event) => events.push(event), { seconds: 100, ids: 7 });
    inner.onEvent = listener.take;
    const seconds = (n: number): Promise<void> => listener.feed(new Float32Array(n * SAMPLE_RATE));
    await listener.start({ phrases: [] });
    await seconds(2.5);
    const started = listener.start({ phrases: [] });
    void seconds(0.25);
    await started;
    await seconds(0.75);

    const heard = events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));
    expect(heard.map(({ id, start, end }) => [id, start, end])).toEqual([
      [7, 100, 101],
      [8, 101, 102],
      [9, 102, 102.5],
      [10, 102.5, 103.5],
    ]);
    expect(heard.map(({ words }) => words[0]!.end)).toEqual([101, 102, 102.5, 103.5]);
    expect(heard.map(({ second }) => [second!.start, second!.words[0]!.end])).toEqual([
      [100, 101],
      [101, 102],
      [102, 102.5],
      [102.5, 103.5],
    ]);
    expect(events.flatMap((e) => (e.type === 'partial' ? [e.end] : []))).toEqual([101, 102, 102.5, 103.5]);

    expect(await listener.pinpoint(heard[3]!, [0])).toEqual({ ...heard[3], uncertainty: 0 });
    expect(inner.asked).toMatchObject([{ id: 0, start: 0, end: 1 }]);
    // Its sound went with the old start.
    expect(await listener.pinpoint(heard[0]!, [0])).toBe(heard[0]);
  });
});
