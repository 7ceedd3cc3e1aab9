import type { StepText } from '../meaning/judge.ts';
import type { Utterance } from '../language/utterance.ts';
import type { EngineOptions } from './engines.ts';
import type { Listener } from '../listening/listener.ts';
import type { Engine } from '../settings/choice.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { ReplySchema, type Ask, type Port, type Request } from './messages.ts';

/**
 * Milliseconds without a word from a worker that owes an answer, after which it is given up: a worker that is killed says
 * nothing. The longest stretch of speech, weighed for numbers, takes some 3 s on one slow core, a model of 44 MB as long.
 */
const PATIENCE = 15_000;

/** Seconds of sound waiting in the worker from which on the user is told that this machine is too slow. */
const BEHIND = 10;

/** Starts the worker of an engine. The page's bundler finds the workers' files by these very expressions. */
export function startListenWorker(engine: Engine): Worker {
  return engine === 'vosk'
    ? new Worker(new URL('./kaldiWorker.ts', import.meta.url), { type: 'module' })
    : new Worker(new URL('./listenWorker.ts', import.meta.url), { type: 'module' });
}

/**
 * A listener that runs in a worker. Its model's bytes move there and cannot be used here afterwards.
 *
 * @param port the worker, of {@link startListenWorker}; its life is the caller's
 * @param onLost told why nothing more can be had of the worker: what was asked of it is rejected
 * @param patience milliseconds it may owe an answer
 * @throws {Error} a model file is not what it should be, or the worker does not answer
 */
export async function createWorkerListener(
  port: Port,
  options: EngineOptions,
  onLost: (reason: string) => void = () => undefined,
  patience = PATIENCE,
): Promise<Listener> {
  const { model, detector, judge, partials = false, onEvent } = options;
  const ask = askOf(port, onEvent, onLost, patience);
  // Its files, and nothing else that its object may hold.
  const asked = { engine: model.engine, files: new Map(model.files) };
  const own = judge ? [judge.network, judge.tokenizer] : [];
  const files = [...asked.files.values(), detector, ...own].map((file) => file.buffer as ArrayBuffer);
  await ask({ type: 'open', model: asked, detector, ...(judge && { judge }), partials }, [...new Set(files)]);
  let waiting = 0;
  let told = false;
  return {
    start: async ({ phrases, steps = [] }) => {
      told = false;
      await ask({ type: 'start', phrases: [...phrases], steps: textsOf(steps) });
    },
    expect: async ({ phrases, steps = [] }) => {
      await ask({ type: 'expect', phrases: [...phrases], steps: textsOf(steps) });
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

/** Asks a worker, and watches over what it answers. */
function askOf(
  port: Port,
  onEvent: EngineOptions['onEvent'],
  onLost: (reason: string) => void,
  patience: number,
): (question: Ask, transfer?: Transferable[]) => Promise<Utterance | undefined> {
  const calls = new Map<
    number,
    { done: (utterance: Utterance | undefined) => void; failed: (error: Error) => void }
  >();
  let lastCall = 0;
  let watch: ReturnType<typeof setTimeout> | undefined;

  const lose = (reason: string): void => {
    clearTimeout(watch);
    const error = new Error(`The listening worker failed: ${reason}`);
    for (const { failed } of calls.values()) failed(error);
    calls.clear();
    onLost(error.message);
  };
  /** Waits for the next word of the worker, if it owes any. */
  const wait = (): void => {
    clearTimeout(watch);
    const seconds = patience / 1000;
    if (calls.size > 0) watch = setTimeout(() => lose(`it did not answer for ${seconds} s`), patience);
  };

  port.addEventListener('message', ({ data }) => {
    const reply = ReplySchema.safeParse(data);
    if (!reply.success) {
      const message = `The listening worker sent a message this page does not know: ${reply.error.message}`;
      onEvent({ type: 'trouble', trouble: { kind: 'engine', message } });
      return;
    }
    if (reply.data.type === 'event') {
      wait();
      return onEvent(reply.data.event);
    }
    const call = calls.get(reply.data.call);
    calls.delete(reply.data.call);
    wait();
    if (reply.data.type === 'done') call?.done(reply.data.utterance);
    else call?.failed(new Error(reply.data.message));
  });
  port.addEventListener('error', ({ message = 'its file could not be loaded' }) => lose(message));

  return (question, transfer = []) =>
    new Promise((done, failed) => {
      const request: Request = { call: ++lastCall, ask: question };
      calls.set(request.call, { done, failed });
      if (calls.size === 1) wait();
      port.postMessage(request, transfer);
    });
}

/** Steps as they go to a worker: what the judge reads, and nothing else that their objects may hold. */
const textsOf = (steps: readonly StepText[]): StepText[] => steps.map(({ id, text }) => ({ id, text }));
