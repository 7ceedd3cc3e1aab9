import type { Utterance } from '../rehearsal/utterance.ts';
import { SAMPLE_RATE, type Listener } from './listener.ts';
import { ReplySchema, type Ask, type Port, type Request } from './messages.ts';
import type { ListenerOptions } from './offlineListener.ts';

/** Seconds of sound waiting in the worker from which on the user is told that this machine is too slow. */
const BEHIND = 10;

/** Starts the listening worker. The page's bundler finds the worker's file by this very expression. */
export function startListenWorker(): Worker {
  return new Worker(new URL('./listenWorker.ts', import.meta.url), { type: 'module' });
}

/**
 * A listener that runs in a worker. Its model's bytes move there and cannot be used here afterwards.
 *
 * @param port the worker, of {@link startListenWorker}; its life is the caller's
 * @throws {Error} a model file is not what it should be
 */
export async function createWorkerListener(port: Port, options: ListenerOptions): Promise<Listener> {
  const { model, detector, partials = false, onEvent } = options;
  const calls = new Map<
    number,
    { done: (utterance: Utterance | undefined) => void; failed: (error: Error) => void }
  >();
  let lastCall = 0;
  let waiting = 0;
  let told = false;

  const ask = (question: Ask, transfer: Transferable[] = []): Promise<Utterance | undefined> =>
    new Promise((done, failed) => {
      const request: Request = { call: ++lastCall, ask: question };
      calls.set(request.call, { done, failed });
      port.postMessage(request, transfer);
    });

  port.addEventListener('message', ({ data }) => {
    const reply = ReplySchema.safeParse(data);
    if (!reply.success) {
      const message = `The listening worker sent a message this page does not know: ${reply.error.message}`;
      onEvent({ type: 'trouble', trouble: { kind: 'engine', message } });
      return;
    }
    if (reply.data.type === 'event') return onEvent(reply.data.event);
    const call = calls.get(reply.data.call);
    calls.delete(reply.data.call);
    if (reply.data.type === 'done') call?.done(reply.data.utterance);
    else call?.failed(new Error(reply.data.message));
  });

  port.addEventListener('error', ({ message = 'its file could not be loaded' }) => {
    const error = new Error(`The listening worker failed: ${message}`);
    onEvent({ type: 'trouble', trouble: { kind: 'engine', message: error.message } });
    for (const { failed } of calls.values()) failed(error);
    calls.clear();
  });

  const { encoder, decoder, tokenizer } = model;
  const files = [encoder, decoder, tokenizer, detector].map((file) => file.buffer as ArrayBuffer);
  await ask({ type: 'open', model: { encoder, decoder, tokenizer }, detector, partials }, [
    ...new Set(files),
  ]);
  return {
    start: async ({ phrases }) => {
      told = false;
      await ask({ type: 'start', phrases: [...phrases] });
    },
    expect: async ({ phrases }) => {
      await ask({ type: 'expect', phrases: [...phrases] });
    },
    feed: async (samples) => {
      const own = samples.slice();
      waiting += own.length;
      if (waiting > BEHIND * SAMPLE_RATE && !told) {
        told = true;
        const message = 'This machine recognises speech more slowly than it is spoken; marks will come late.';
        onEvent({ type: 'trouble', trouble: { kind: 'behind', message } });
      }
      await ask({ type: 'feed', samples: own }, [own.buffer]).finally(() => (waiting -= samples.length));
    },
    pinpoint: async (utterance, wanted) =>
      (await ask({ type: 'pinpoint', utterance, wanted: [...wanted] })) ?? utterance,
    stop: async () => {
      await ask({ type: 'stop' });
    },
  };
}
