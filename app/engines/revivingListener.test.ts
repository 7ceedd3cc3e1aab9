import { beforeEach, expect, it } from 'vitest';
import { utteranceOf } from '../language/utterance.ts';
import type { Listener, ListenerEvent } from '../listening/listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { RevivingListener } from './revivingListener.ts';

/**
 * A listener that hears each second of sound as an utterance as loud as its first sample, when the next second begins. It
 * can be broken: then it answers nothing more.
 */
class Pretended implements Listener {
  closed = false;
  broken = false;
  readonly vocabularies: string[] = [];
  private samples: number[] = [];
  private told = 0;

  constructor(
    private readonly onEvent: (event: ListenerEvent) => void,
    readonly lose: (reason: string) => void,
  ) {}

  private answer(): Promise<void> {
    return this.broken ? new Promise(() => undefined) : Promise.resolve();
  }
  start({ phrases }: { phrases: readonly string[] }): Promise<void> {
    this.vocabularies.push(phrases.join());
    this.samples = [];
    this.told = 0;
    return this.answer();
  }
  expect({ phrases }: { phrases: readonly string[] }): Promise<void> {
    this.vocabularies.push(phrases.join());
    return this.answer();
  }
  feed(samples: Float32Array): Promise<void> {
    if (!this.broken) {
      this.samples.push(...samples);
      while (this.samples.length > (this.told + 1) * SAMPLE_RATE) this.tell();
    }
    return this.answer();
  }
  pinpoint<T>(utterance: T): Promise<T> {
    return Promise.resolve(utterance);
  }
  stop(): Promise<void> {
    if (!this.broken && this.samples.length > this.told * SAMPLE_RATE) this.tell();
    return this.answer();
  }
  private tell(): void {
    const at = this.told++;
    const text = String(Math.round(10 * this.samples[at * SAMPLE_RATE]!));
    // Ends before the next second does, as speech ends before the silence that tells of its end.
    this.onEvent({ type: 'utterance', utterance: utteranceOf({ id: at, text, start: at, end: at + 0.9 }) });
  }
}

let events: ListenerEvent[] = [];
let made: Pretended[] = [];
let fails = false;
const open = (): Promise<RevivingListener> =>
  RevivingListener.open(
    async (onEvent, onLost) => {
      if (fails) throw new Error('the model is gone');
      const listener = new Pretended(onEvent, onLost);
      made.push(listener);
      return { listener, close: () => (listener.closed = true) };
    },
    (event) => void events.push(event),
  );

beforeEach(() => {
  events = [];
  made = [];
  fails = false;
});

const utterances = () => events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));
const troubles = () => events.flatMap((e) => (e.type === 'trouble' ? [e.trouble.kind] : []));
/** Seconds of sound from one to another, each as loud as a tenth of its number. */
const seconds = (from: number, to: number): Float32Array =>
  Float32Array.from(
    { length: (to - from) * SAMPLE_RATE },
    (_, i) => (from + Math.floor(i / SAMPLE_RATE)) / 10,
  );
/** The same in pieces of a tenth of a second. */
async function feed(listener: Listener, from: number, to: number): Promise<void> {
  const samples = seconds(from, to);
  for (let at = 0; at < samples.length; at += 1600) await listener.feed(samples.subarray(at, at + 1600));
}

it('hears again what was said since the last utterance, with times and ids that go on', async () => {
  const listener = await open();
  await listener.start({ phrases: ['soap'] });
  await listener.expect({ phrases: ['towel'] });
  await feed(listener, 0, 2.5);
  expect(utterances().map(({ text }) => text)).toEqual(['0', '1']);
  made[0]!.broken = true;
  const waiting = [listener.feed(seconds(2, 3).subarray(SAMPLE_RATE / 2)), listener.feed(seconds(3, 4))];
  made[0]!.lose('killed');
  await Promise.all([...waiting, listener.feed(seconds(4, 5))]);
  await listener.stop();

  expect(troubles()).toEqual(['restarted']);
  expect(made.map(({ closed }) => closed)).toEqual([true, false]);
  expect(made[1]!.vocabularies).toEqual(['towel']);
  // The last utterance ended at 1.9, so all is heard again from 2 on.
  expect(utterances().map(({ id, text, start }) => [id, text, start])).toEqual([
    [0, '0', 0],
    [1, '1', 1],
    [2, '2', 2],
    [3, '3', 3],
    [4, '4', 4],
  ]);
});

it('starts again from zero', async () => {
  const listener = await open();
  await listener.start({ phrases: [] });
  await feed(listener, 0, 1.5);
  made[0]!.lose('killed');
  void listener.start({ phrases: [] });
  events = [];
  await feed(listener, 3, 4.5);
  expect(utterances().map(({ id, start, text }) => [id, start, text])).toEqual([[0, 0, '3']]);
});

it('takes trouble with the engine for the loss of it', async () => {
  const listener = await open();
  await listener.start({ phrases: [] });
  made[0]!['onEvent']({ type: 'trouble', trouble: { kind: 'behind', message: 'slow' } });
  made[0]!['onEvent']({ type: 'trouble', trouble: { kind: 'engine', message: 'out of memory' } });
  await feed(listener, 0, 1.1);
  expect(troubles()).toEqual(['behind', 'restarted']);
  expect(made.length).toBe(2);
  // The dead have no say.
  made[0]!['onEvent']({ type: 'speech', at: 1 });
  expect(events.filter((e) => e.type === 'speech')).toEqual([]);
});

it('does not hear again what two were lost of, and gives up after a third', async () => {
  const listener = await open();
  await listener.start({ phrases: [] });
  await listener.feed(seconds(5, 6).subarray(0, 8000));
  made[0]!.lose('killed');
  await listener.feed(new Float32Array(1600));
  made[1]!.lose('killed again');
  await listener.feed(seconds(7, 9));
  expect(utterances().map(({ text }) => text)).toEqual(['7']);
  // That one heard something: the count begins again.
  made[2]!.lose('killed');
  made[3]!.lose('killed');
  await listener.feed(new Float32Array(1600));
  expect(troubles()).toEqual(['restarted', 'engine', 'restarted', 'engine']);
  fails = true;
  made.at(-1)!.lose('killed');
  await expect(listener.feed(new Float32Array(1600))).rejects.toThrow(/open the page again/);
  fails = false;
  await listener.start({ phrases: [] });
  await feed(listener, 1, 2.5);
  expect(utterances().at(-1)!.text).toBe('1');
});

it('cannot be opened without its model, and says nothing more once it is closed', async () => {
  const listener = await open();
  await listener.start({ phrases: [] });
  listener.close();
  expect(made[0]!.closed).toBe(true);
  await expect(listener.feed(new Float32Array(1600))).rejects.toThrow(/closed/);
  await expect(listener.start({ phrases: [] })).rejects.toThrow(/closed/);
  fails = true;
  await expect(open()).rejects.toThrow(/model is gone/);
  expect(events).toEqual([]);
});
