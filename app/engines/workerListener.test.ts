import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { ListenerEvent } from '../listening/listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { serveListener } from './listenService.ts';
import { RequestSchema, type Port, type Request } from './messages.ts';
import { createWorkerListener } from './workerListener.ts';

const files = () => ({
  model: {
    engine: 'moonshine' as const,
    files: new Map([['tokenizer.bin', new Uint8Array(8)]]),
  },
  detector: new Uint8Array(8),
});

let channel: MessageChannel;
let events: ListenerEvent[];
const onEvent = (event: ListenerEvent): void => {
  events.push(event);
};

beforeEach(() => {
  channel = new MessageChannel();
  channel.port1.start();
  channel.port2.start();
  events = [];
});
afterEach(() => {
  channel.port1.close();
  channel.port2.close();
});

/** A worker that answers each request by what the test says; null leaves it waiting. */
function pretendWorker(answer: (request: Request) => unknown): Request['ask'][] {
  const asked: Request['ask'][] = [];
  channel.port2.addEventListener('message', ({ data }) => {
    const request = RequestSchema.parse(data);
    asked.push(request.ask);
    const reply = answer(request);
    if (reply !== null) channel.port2.postMessage(reply);
  });
  return asked;
}

const done = ({ call }: Request): unknown => ({ type: 'done', call });

describe('a worker listener', () => {
  it('asks its worker in order and moves the model there', async () => {
    const asked = pretendWorker(done);
    const { model, detector } = files();
    const listener = await createWorkerListener(channel.port1, { model, detector, onEvent });
    await listener.start({ phrases: ['call light'] });
    const samples = Float32Array.of(0.5, -0.5);
    await listener.feed(samples);
    await listener.stop();
    expect(asked.map(({ type }) => type)).toEqual(['open', 'start', 'feed', 'stop']);
    expect(asked[1]).toEqual({ type: 'start', phrases: ['call light'], steps: [] });
    expect(asked[2]).toEqual({ type: 'feed', samples });
    // The caller keeps its sound and gives up its model.
    expect(samples.length).toBe(2);
    expect(model.files.get('tokenizer.bin')?.length).toBe(0);
  });

  it('hands events on, and says so when it does not know one', async () => {
    pretendWorker((request) => {
      if (request.ask.type === 'start') {
        channel.port2.postMessage({ type: 'event', event: { type: 'speech', at: 1.5 } });
        channel.port2.postMessage({ type: 'event', event: { type: 'sneeze' } });
      }
      return done(request);
    });
    const listener = await createWorkerListener(channel.port1, { ...files(), onEvent });
    await listener.start({ phrases: [] });
    expect(events[0]).toEqual({ type: 'speech', at: 1.5 });
    expect(events[1]).toMatchObject({ type: 'trouble', trouble: { kind: 'engine' } });
  });

  it('says once that the machine is too slow', async () => {
    pretendWorker((request) => (request.ask.type === 'feed' ? null : done(request)));
    const listener = await createWorkerListener(channel.port1, { ...files(), onEvent });
    for (let second = 0; second < 12; second++) void listener.feed(new Float32Array(SAMPLE_RATE));
    expect(events).toMatchObject([{ type: 'trouble', trouble: { kind: 'behind' } }]);
  });
});

it('ends what is asked of a worker that fails', async () => {
  let fail = (): void => undefined;
  const port: Port = {
    postMessage: () => fail(),
    addEventListener: (type, listener) => {
      if (type === 'error') fail = () => listener({});
    },
  };
  const lost: string[] = [];
  await expect(
    createWorkerListener(port, { ...files(), onEvent }, (reason) => lost.push(reason)),
  ).rejects.toThrow(/could not be loaded/);
  expect(lost).toEqual([expect.stringContaining('could not be loaded')]);
});

it('gives a worker up that owes an answer for too long, and not one that is busy', async () => {
  const lost: string[] = [];
  const channel = new MessageChannel();
  channel.port2.start();
  channel.port1.start();
  channel.port2.addEventListener('message', ({ data }) => {
    const { ask, call } = RequestSchema.parse(data);
    if (ask.type === 'expect') return;
    const say = (message: unknown): void => channel.port2.postMessage(message);
    if (ask.type !== 'feed') return say({ type: 'done', call });
    // Three times as long as is waited for, but never silent for so long.
    const speaking = setInterval(() => say({ type: 'event', event: { type: 'speech', at: 1 } }), 50);
    setTimeout(() => {
      clearInterval(speaking);
      say({ type: 'done', call });
    }, 600);
  });
  const listener = await createWorkerListener(
    channel.port1,
    { ...files(), onEvent },
    (reason) => lost.push(reason),
    200,
  );
  await listener.feed(new Float32Array(1));
  expect(lost).toEqual([]);
  await expect(listener.expect({ phrases: [] })).rejects.toThrow(/did not answer for 0\.2 s/);
  expect(lost.length).toBe(1);
  channel.port1.close();
});

describe('a listening service', () => {
  const open = () => createWorkerListener(channel.port1, { ...files(), onEvent });

  it('refuses a model that is none, with the reason', async () => {
    serveListener(channel.port2);
    await expect(open()).rejects.toThrow(/table of tokens/);
  });

  it('answers messages it does not know with trouble and goes on', async () => {
    serveListener(channel.port2);
    const replies: unknown[] = [];
    channel.port1.addEventListener('message', ({ data }) => replies.push(data));
    channel.port1.postMessage('hello');
    channel.port1.postMessage({ call: 7, ask: { type: 'stop' } });
    await expect.poll(() => replies.length).toBe(2);
    expect(replies[0]).toMatchObject({ type: 'event', event: { type: 'trouble' } });
    expect(replies[1]).toEqual({ type: 'failed', call: 7, message: 'The listener has not been opened.' });
  });
});
