import { openEngine } from './engines.ts';
import type { Listener } from '../listening/listener.ts';
import { RequestSchema, type Ask, type Port, type Reply } from './messages.ts';
import { messageOf } from '../faults/faults.ts';

/** Serves one listener at a port: the worker's side of a {@link createWorkerListener}. */
export function serveListener(port: Port): void {
  const reply = (message: Reply): void => port.postMessage(message, []);
  let listener: Listener | null = null;

  const answer = async (ask: Ask) => {
    if (ask.type === 'open') {
      const { model, detector, judge, partials } = ask;
      listener = await openEngine({
        model,
        detector,
        ...(judge && { judge }),
        partials,
        onEvent: (event) => reply({ type: 'event', event }),
      });
      return {};
    }
    if (listener === null) throw new Error('The listener has not been opened.');
    switch (ask.type) {
      case 'start':
      case 'expect':
        await listener[ask.type]({ phrases: ask.phrases, steps: ask.steps });
        return {};
      case 'feed':
        await listener.feed(ask.samples);
        return {};
      case 'pinpoint':
        return { utterance: await listener.pinpoint(ask.utterance, ask.wanted) };
      case 'stop':
        await listener.stop();
        return {};
    }
  };

  port.addEventListener('message', ({ data }) => {
    const request = RequestSchema.safeParse(data);
    if (!request.success) {
      const message = `The listening worker got a message it does not know: ${request.error.message}`;
      reply({ type: 'event', event: { type: 'trouble', trouble: { kind: 'engine', message } } });
      return;
    }
    const { call, ask } = request.data;
    answer(ask).then(
      (result) => reply({ type: 'done', call, ...result }),
      (error: unknown) => reply({ type: 'failed', call, message: messageOf(error) }),
    );
  });
}
